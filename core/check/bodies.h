#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/limits.h"
#include "core/check/contact.h"
#include "core/space/proximity.h"

/// What stands and lies in a stage, made ready for distances, and how a pair of them is judged: what check_clearance()
/// and Probe share.
namespace setwright::check {

/// In C; null where there is no such part.
struct ComponentBodies {
    std::shared_ptr<const space::ProximityBody> fixed, moving;
};

/// A placement where it stands. Placement and component belong to the set-up, `posed` to whoever made it.
struct Standing {
    const setup::Placement* placement = nullptr;
    const setup::Posed* posed = nullptr;
    const shop::Component* component = nullptr;
    ComponentBodies bodies;
    space::Aabb box_T;
};

/// Makes placements ready; same component, same choices: same bodies.
class StandingMaker {
  public:
    Standing make(const setup::Setup& setup, const setup::Placement& placement, const setup::Posed& posed);

  private:
    std::map<std::string, ComponentBodies> made_;
};

/// A piece where it lies.
struct Lying {
    PieceId id;
    const weldment::Piece* piece = nullptr;
    space::Pose X_TP;
    std::shared_ptr<const space::ProximityBody> body;
    space::Aabb box_T;
};
/// The pieces of a stage by id.
std::vector<Lying> lying_pieces(const setup::Setup& setup, const setup::Stage& stage);

/// The table's plate, in T.
space::Mesh plate_mesh(const shop::Table& table);

/// One stands on the other.
bool is_guest_and_host(const setup::Placement& a, const setup::Placement& b);

/// How a placement touches a piece by design: contact normals of the pair, each direction once, and how far to back off
/// along them.
struct Touch {
    std::vector<space::Vec3> normals;
    double away_mm = base::limits::back_off_mm;
    /// A pin in a hole has no way out across its axis.
    bool in_hole = false;
    /// Volume that a pin may share with its hole where it stands off its axis by no more than a contact may.
    double allowed_mm3 = base::limits::overlap_mm3;

    space::Vec3 back_off() const;
    /// From both sides: no way out frees every contact.
    bool grips() const;
};
/// None where they do not touch by design. `contacts`: those of the stage, or of this placement.
std::optional<Touch> touch(const setup::Setup& setup, const setup::Stage& stage, const std::vector<Contact>& contacts,
                           const Standing& standing, const Lying& piece);

/// A clamp whose pad comes down on this piece within its stroke is meant to be near it. `near`: contacts within
/// reach_of_pads().
bool presses(const std::vector<Contact>& near, const Standing& standing, const Lying& piece);
/// How far from its pad this one may press.
double reach_of_pads(const Standing& standing);

/// What is left of an overlap when contacts by design are taken away.
struct Hit {
    enum class Kind { none, overlap, not_computed } kind = Kind::none;
    space::Vec3 at_T = space::Vec3::Zero();
};
/// Of two that touch by design: tested again backed off, jaws and pins by shared volume.
Hit hit_beyond_touch(const Standing& standing, const Lying& piece, const Touch& touching);
/// Bodies that touch by design or by chance are not in each other's way: only what stays after a small move in every
/// direction of both is an overlap. For bodies that are known to overlap at all.
bool stays_overlapped(const space::ProximityBody& a, const space::Pose& X_TA, const space::ProximityBody& b,
                      const space::Pose& X_TB);
/// A point of the placement that is inside the table's plate; what stands on it touches it by design.
std::optional<space::Vec3> inside_plate(const Standing& standing, const space::ProximityBody& plate);

}  // namespace setwright::check
