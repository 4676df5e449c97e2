#pragma once

#include <optional>

#include "core/setup/place.h"

/// The seat next to a seat: what a key asks for. Each gives the nearest one in the asked direction that pose() takes;
/// none where there is none. Holes used by others are no fault here. `self` is the placement that is being set, none
/// for a new one.
namespace setwright::setup {

/// The seat in which a component comes off the shelf onto `host`: its first plate, right hand where it is handed, the
/// setting nearest to 0, no packers, facing east (on a face: right) or the nearest turn that the mount allows there, in
/// the hole nearest to `pointer_T`. None where the component cannot stand on this host.
std::optional<Seat> first_seat(const Setup& setup, const Stage& stage, const shop::Component& component,
                               const Host& host, const space::Vec3& pointer_T);

/// By whole holes along the host's axes; over blocked holes to the next one. Hosts without holes: by whole centimetres
/// along and across.
std::optional<Seat> next_hole(const Setup& setup, const Stage& stage, const shop::Component& component,
                              const Seat& seat, PlacementId self, int columns, int rows);
/// The next turn counter-clockwise (`by` > 0) or clockwise.
std::optional<Seat> next_turn(const Setup& setup, const Stage& stage, const shop::Component& component,
                              const Seat& seat, PlacementId self, int by);
/// None where the component has no hands.
std::optional<Seat> other_hand(const Setup& setup, const Stage& stage, const shop::Component& component,
                               const Seat& seat, PlacementId self);
std::optional<Seat> next_setting(const Setup& setup, const Stage& stage, const shop::Component& component,
                                 const Seat& seat, PlacementId self, int by);
std::optional<Seat> next_plate(const Setup& setup, const Stage& stage, const shop::Component& component,
                               const Seat& seat, PlacementId self, int by);
/// The next stack up or down that the packers of the job (`Setup::components`) can make.
std::optional<Seat> next_packers(const Setup& setup, const Stage& stage, const shop::Component& component,
                                 const Seat& seat, PlacementId self, Packer::Where where, int by);

/// The face with holes of this placement on which the point lies, `normal_T` out of the face; none where it is on no
/// such face.
std::optional<Host> face_under(const Setup& setup, const Stage& stage, PlacementId placement,
                               const space::Vec3& point_T, const space::Vec3& normal_T);

}  // namespace setwright::setup
