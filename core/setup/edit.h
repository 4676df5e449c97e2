#pragma once

#include <optional>
#include <string>

#include "core/base/result.h"
#include "core/setup/setup.h"

/// Changes to the document: each takes the old value and gives the new one, or says why not. Nothing else writes a Setup.
namespace setwright::setup {

/// A new job: one weldment, one stage "stage 1" with all pieces held by the set-up, side down -Z, nothing placed.
Setup new_job(WeldmentUse weldment, shop::Table table, shop::Shelf shelf);

/// Lays the weldment of the stage: `side` of M down ("-Y" …), turned by yaw about the vertical, so that the corner of
/// its box (lower left, lowest point) comes to (x, y, z) in T.
base::Result<Setup> lay(const Setup& setup, StageId stage, std::string_view side, double yaw_deg, const space::Vec3& corner_T);
/// Or exactly: M's pose.
base::Result<Setup> lay(const Setup& setup, StageId stage, const space::Pose& X_TM);

struct Placed {
    Setup setup;
    PlacementId id;
};
base::Result<Placed> place(const Setup& setup, StageId stage, std::shared_ptr<const shop::Component> component, const Seat& seat);
/// Guests come along; refused where a seat is no longer one.
base::Result<Setup> move(const Setup& setup, StageId stage, PlacementId placement, const Seat& seat);
/// Refused, naming them, where other placements stand on it and `with_guests` is not set.
base::Result<Setup> remove(const Setup& setup, StageId stage, PlacementId placement, bool with_guests = false);
base::Result<Setup> hold(const Setup& setup, StageId stage, PieceId piece, HeldBy held_by);
base::Result<Setup> add_stage(const Setup& setup, std::string name);
/// Order of loading and the like; replaces the stage's order.
base::Result<Setup> set_order(const Setup& setup, StageId stage, std::vector<Step> order);

}  // namespace setwright::setup
