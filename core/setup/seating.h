#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "core/setup/place.h"

/// What place, callout and touching share: a seat worked out for a component that need not be in the job yet.
namespace setwright::setup {

/// A seat resolved on its host, without bodies.
struct Seated {
    HostGrid grid;
    space::Pose X_TC;
    std::optional<shop::Hole> second_hole;
};

/// Where `component` comes to stand in `seat`. `self` is the placement that is being set (none for a new one): nothing
/// may stand on itself. Fails as pose() does; holes taken by others are no fault here.
base::Result<Seated> seated(const Setup& setup, const Stage& stage, const shop::Component& component, const Seat& seat,
                            PlacementId self);
/// Fails where another placement uses the datum or second hole.
base::Result<void> holes_free(const Setup& setup, const Stage& stage, const shop::Component& component,
                              const Seat& seat, const Seated& seated, PlacementId self);

/// Loose clamps, bars and magnets need none.
bool needs_hole(const shop::Component& component);
/// One pin, and nothing to tell one facing from another.
bool has_no_facing(const shop::Component& component);
/// Sum of the packers of one stack.
double stack_mm(const Seat& seat, Packer::Where where);
/// Compass words hold on the table; other hosts have right, up, left, down.
bool has_compass(const Host& host);
/// Facings that the mount allows here, as the callout says them, at most a dozen.
std::string facing_words(const shop::Component& component, const HostGrid& grid, bool compass);
/// One facing as the callout says it.
std::string facing_word(std::array<int, 2> turn, const HostGrid& grid, bool compass);

/// Of the host face named by `key`: x along, y across, z out of the face, origin at its corner of lowest along and
/// across. along = P's z axis laid into the face; on end faces the longer side of the face. In P.
space::Pose face_frame(const weldment::Piece& piece, int face);

/// Packers of the job that the shelf has, as one stack can use them.
struct PackerStack {
    double sum_mm = 0;
    /// Thickest first, at most limits::packers_in_stack.
    std::vector<const shop::Component*> packers;
};
/// Every height that a stack can make, ascending, each in its simplest way; the empty stack is among them.
std::vector<PackerStack> packer_stacks(const Setup& setup, const shop::Component& component);
/// Packers defined in the job: those named in the component's unit first, then those that the shelf has, then by id.
std::vector<const shop::Component*> packers_of(const Setup& setup, const shop::Component& component);

}  // namespace setwright::setup
