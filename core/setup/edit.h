#pragma once

#include <optional>
#include <string>

#include "core/base/result.h"
#include "core/setup/setup.h"

/// Changes to the document: each takes the old value and gives the new one, or says why not. Nothing else writes a
/// Setup.
namespace setwright::setup {

/// A new job: one weldment, one stage "stage 1" with all pieces held by the set-up, side down -Z, nothing placed. Ids
/// go on after the largest of its pieces and seams.
Setup new_job(WeldmentUse weldment, shop::Table table, shop::Shelf shelf);

/// Lays the weldment of the stage: `side` of M down ("-Y" …), turned by yaw about the vertical, so that the corner of
/// its box (lower left, lowest point) comes to (x, y, z) in T. The side goes down by the shortest turn: ±Y about M's x
/// (-Y down: X_M stays along x, Z_M looks to -y), ±X about M's y, and +Z by half a turn about M's x. The box is that of
/// the corners of all pieces present, earlier stages included, left-out ones not. Refused where a seat on a piece is
/// then none.
base::Result<Setup> lay(const Setup& setup, StageId stage, std::string_view side, double yaw_deg,
                        const space::Vec3& corner_T);
/// Or exactly: M's pose. The side down and yaw are read off it; "" where no side looks straight down.
base::Result<Setup> lay(const Setup& setup, StageId stage, const space::Pose& X_TM);
/// The side down and the yaw as they are read off M's pose; "" and 0 where no side looks straight down.
Lay lay_of(const space::Pose& X_TM);

/// Turned by the shortest turn so that this flat face looks down; the middle of the box stays over its place and the
/// lowest point at its height.
base::Result<Setup> lay_face_down(const Setup& setup, StageId stage, PieceId piece, int face);
/// About the upright line through the middle of its box, counter-clockwise seen from above.
base::Result<Setup> turn_laid(const Setup& setup, StageId stage, double deg);
base::Result<Setup> shift_laid(const Setup& setup, StageId stage, const space::Vec3& by_T);
/// Box in T of the corners of all pieces present, as lay() counts them; empty where there are none.
space::Aabb laid_box(const Setup& setup, const Stage& stage);

struct Placed {
    Setup setup;
    PlacementId id;
};
/// Takes the smallest free number of the drawing. Where the job already has a definition of this id, that one is used.
base::Result<Placed> place(const Setup& setup, StageId stage, std::shared_ptr<const shop::Component> component,
                           const Seat& seat);
/// Guests come along; refused where a seat is no longer one or it would stand on itself.
base::Result<Setup> move(const Setup& setup, StageId stage, PlacementId placement, const Seat& seat);
/// Refused, naming them, where other placements stand on it and `with_guests` is not set. Steps and as-set values that
/// spoke of it lose it; definitions no longer in use go.
base::Result<Setup> remove(const Setup& setup, StageId stage, PlacementId placement, bool with_guests = false);
base::Result<Setup> hold(const Setup& setup, StageId stage, PieceId piece, HeldBy held_by);
/// The last stage, welded, comes into the new one as one body, lying as it lay.
base::Result<Setup> add_stage(const Setup& setup, std::string name);
base::Result<Setup> name_stage(const Setup& setup, StageId stage, std::string name);
/// Order of loading and the like; replaces the stage's order. Steps without an id get one.
base::Result<Setup> set_order(const Setup& setup, StageId stage, std::vector<Step> order);

/// A locked placement is left where it is by proposals.
base::Result<Setup> lock(const Setup& setup, StageId stage, PlacementId placement, bool locked);
base::Result<Setup> note(const Setup& setup, StageId stage, PlacementId placement, std::string note);
Setup set_title(const Setup& setup, TitleBlock title);
Setup set_display(const Setup& setup, Display display);
Setup set_notes(const Setup& setup, std::string notes);
/// Puts the finding among those accepted, or takes it out again; by rule and subjects.
Setup accept(const Setup& setup, Accepted finding);
Setup unaccept(const Setup& setup, const Accepted& finding);

}  // namespace setwright::setup
