#include "core/setup/edit.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <set>

#include "core/base/bug.h"
#include "core/base/limits.h"
#include "core/setup/place.h"

namespace setwright::setup {

using base::Angle;
using base::Error;
using base::Result;
using base::Text;
using space::Pose;
using space::Vec3;

namespace {

Error stage_unknown(StageId id) {
    return base::bad_input({"edit.stage_unknown", {{"stage", std::int64_t{id.value}}}});
}

Error placement_unknown(PlacementId id) {
    return base::bad_input({"edit.placement_unknown", {{"placement", std::int64_t{id.value}}}});
}

/// Turn that brings `side` of M to the underside by the shortest way. None where the text names no side.
std::optional<Pose> base_turn(std::string_view side) {
    if (side == "-Z") return Pose{};
    if (side == "+Z") return Pose::turn_x(Angle::deg(180));
    if (side == "-Y") return Pose::turn_x(Angle::deg(90));
    if (side == "+Y") return Pose::turn_x(Angle::deg(-90));
    if (side == "-X") return Pose::turn_y(Angle::deg(-90));
    if (side == "+X") return Pose::turn_y(Angle::deg(90));
    return std::nullopt;
}

/// Pieces that lie on the table in this stage: its own and, welded already, those of the stages that come in. Left-out
/// pieces are not there.
std::set<PieceId> pieces_present(const Setup& setup, const Stage& stage) {
    std::set<PieceId> present;
    std::set<StageId> seen;
    const std::function<void(const Stage&)> add = [&](const Stage& from) {
        if (!seen.insert(from.id).second) return;
        present.insert(from.pieces.begin(), from.pieces.end());
        for (const StageId id : from.earlier)
            if (const Stage* earlier = setup.find_stage(id)) add(*earlier);
    };
    add(stage);
    for (const WeldmentUse& use : setup.weldments)
        for (const auto& [piece, edit] : use.piece_edits)
            if (edit.left_out) present.erase(piece);
    return present;
}

/// The placement itself and all that stand on it, directly or on one another.
std::set<PlacementId> with_guests_of(const Stage& stage, PlacementId host) {
    std::set<PlacementId> all{host};
    for (bool grown = true; grown;) {
        grown = false;
        for (const Placement& placement : stage.placements)
            if (placement.seat.host.kind == Host::Kind::placement && all.contains(placement.seat.host.placement))
                grown |= all.insert(placement.id).second;
    }
    return all;
}

Placement* find(Stage& stage, PlacementId id) {
    const auto found =
        std::find_if(stage.placements.begin(), stage.placements.end(), [&](const Placement& p) { return p.id == id; });
    return found == stage.placements.end() ? nullptr : &*found;
}

int free_number(const Setup& setup) {
    std::set<int> taken;
    for (const Stage& stage : setup.stages)
        for (const Placement& placement : stage.placements) taken.insert(placement.no);
    int no = 1;
    while (taken.contains(no)) ++no;
    return no;
}

Result<void> check_seats(const Setup& setup, const Stage& stage, const std::function<bool(const Placement&)>& which) {
    for (const Placement& placement : stage.placements) {
        if (!which(placement)) continue;
        if (auto seat = check_seat(setup, stage, placement); !seat) return seat;
    }
    return {};
}

bool stands_on_a_piece(const Placement& placement) {
    return placement.seat.host.kind == Host::Kind::piece || placement.seat.host.kind == Host::Kind::pieces;
}

Result<Setup> laid(const Setup& setup, StageId id, Lay lay) {
    Setup next = setup;
    Stage* stage = next.find_stage(id);
    if (!stage) return stage_unknown(id);
    stage->lay = std::move(lay);
    if (auto seats = check_seats(next, *stage, stands_on_a_piece); !seats) return seats.error();
    return next;
}

void drop_unused_definitions(Setup& setup) {
    std::set<std::string> used;
    for (const Stage& stage : setup.stages)
        for (const Placement& placement : stage.placements) {
            used.insert(placement.component);
            for (const Packer& packer : placement.seat.packers) used.insert(packer.component);
        }
    std::erase_if(setup.components, [&](const auto& entry) { return !used.contains(entry.first); });
}

/// Takes placements out of the steps; a step that spoke of nothing else goes with them.
void forget(Stage& stage, const std::set<PlacementId>& gone) {
    std::erase_if(stage.order, [&](Step& step) {
        const auto taken = std::erase_if(step.placements, [&](PlacementId id) { return gone.contains(id); });
        return taken > 0 && step.placements.empty() && step.pieces.empty() && step.seams.empty() && step.note.empty();
    });
    for (const PlacementId id : gone) stage.as_set_mm.erase(id);
}

}  // namespace

Setup new_job(WeldmentUse weldment, shop::Table table, shop::Shelf shelf) {
    Setup setup;
    Stage stage;
    stage.name = "stage 1";
    const auto known = [&](std::uint32_t id) { setup.last_id = std::max(setup.last_id, id); };
    for (const auto& [id, frozen] : weldment.frozen) {
        known(id.value);
        stage.pieces.push_back(id);
    }
    for (const DrawnPiece& piece : weldment.drawn) {
        known(piece.id.value);
        stage.pieces.push_back(piece.id);
    }
    for (const auto& [id, frozen] : weldment.frozen_seams) known(id.value);
    weldment.id = WeldmentId{setup.next_id()};
    stage.id = StageId{setup.next_id()};
    setup.weldments.push_back(std::move(weldment));
    setup.stages.push_back(std::move(stage));
    setup.table = std::move(table);
    setup.shelf = std::move(shelf);
    return setup;
}

Result<Setup> lay(const Setup& setup, StageId id, std::string_view side, double yaw_deg, const Vec3& corner_T) {
    const Stage* stage = setup.find_stage(id);
    if (!stage) return stage_unknown(id);
    const auto turned = base_turn(side);
    if (!turned) return base::bad_input({"edit.side_unknown", {{"side", std::string(side)}}});
    if (!std::isfinite(yaw_deg) || !corner_T.allFinite()) return base::bad_input({"edit.lay_not_a_number", {}});
    const Pose X_turn = Pose::turn_z(Angle::deg(yaw_deg)) * *turned;
    // Every corner of every piece, not a box of boxes: a turned box would lie loosely around its weldment.
    space::Aabb box;
    for (const PieceId piece_id : pieces_present(setup, *stage)) {
        const weldment::Piece* piece = setup.find_piece(piece_id);
        if (!piece || !piece->solid) continue;
        const Pose X = X_turn * piece->X_MP;
        for (const Vec3& point : piece->solid->mesh.points) box.add(X * point);
    }
    if (box.empty()) return base::bad_input({"edit.nothing_to_lay", {{"stage", stage->name}}});
    return laid(setup, id, {std::string(side), yaw_deg, Pose::move(corner_T - box.min) * X_turn});
}

Result<Setup> lay(const Setup& setup, StageId id, const Pose& X_TM) {
    for (const char* side : {"-Z", "+Z", "-Y", "+Y", "-X", "+X"}) {
        const Pose X_turn = X_TM * base_turn(side)->inverse();
        const double off_deg = Angle::rad(std::acos(std::clamp(X_turn.rotation()(2, 2), -1.0, 1.0))).deg();
        if (off_deg > base::limits::parallel_deg) continue;
        const double yaw = std::atan2(X_turn.rotation()(1, 0), X_turn.rotation()(0, 0));
        return laid(setup, id, {side, base::round_json(Angle::rad(yaw).deg()), X_TM});
    }
    return laid(setup, id, {"", 0, X_TM});
}

Result<Placed> place(const Setup& setup, StageId id, std::shared_ptr<const shop::Component> component,
                     const Seat& seat) {
    SETWRIGHT_ASSERT(component, "place() is given the component to place");
    Placed placed{setup, {}};
    Stage* stage = placed.setup.find_stage(id);
    if (!stage) return stage_unknown(id);
    Placement placement;
    placement.id = placed.id = PlacementId{placed.setup.next_id()};
    placement.no = free_number(setup);
    placement.component = component->id;
    placement.seat = seat;
    placed.setup.components.emplace(component->id, component);
    stage->placements.push_back(std::move(placement));
    if (auto good = check_seat(placed.setup, *stage, stage->placements.back()); !good) return good.error();
    return placed;
}

Result<Setup> move(const Setup& setup, StageId id, PlacementId placement_id, const Seat& seat) {
    Setup next = setup;
    Stage* stage = next.find_stage(id);
    if (!stage) return stage_unknown(id);
    Placement* placement = find(*stage, placement_id);
    if (!placement) return placement_unknown(placement_id);
    const std::set<PlacementId> moving = with_guests_of(*stage, placement_id);
    if (seat.host.kind == Host::Kind::placement && moving.contains(seat.host.placement)) {
        const Placement* host = stage->find(seat.host.placement);
        return base::bad_input(
            {"edit.stands_on_itself", {{"no", std::int64_t{placement->no}}, {"host", std::int64_t{host->no}}}});
    }
    placement->seat = seat;
    if (auto good = check_seats(next, *stage, [&](const Placement& p) { return moving.contains(p.id); }); !good)
        return good.error();
    drop_unused_definitions(next);
    return next;
}

Result<Setup> remove(const Setup& setup, StageId id, PlacementId placement_id, bool with_guests) {
    Setup next = setup;
    Stage* stage = next.find_stage(id);
    if (!stage) return stage_unknown(id);
    const Placement* placement = stage->find(placement_id);
    if (!placement) return placement_unknown(placement_id);
    const std::set<PlacementId> gone = with_guests_of(*stage, placement_id);
    if (gone.size() > 1 && !with_guests) {
        std::vector<Text> guests;
        for (const Placement& other : stage->placements)
            if (other.id != placement_id && gone.contains(other.id))
                guests.push_back({"edit.number", {{"no", std::int64_t{other.no}}}});
        const auto count = static_cast<std::int64_t>(guests.size());
        return base::bad_input(
            {"edit.has_guests",
             {{"no", std::int64_t{placement->no}}, {"guests", std::move(guests)}, {"count", count}}});
    }
    std::erase_if(stage->placements, [&](const Placement& p) { return gone.contains(p.id); });
    forget(*stage, gone);
    drop_unused_definitions(next);
    return next;
}

Result<Setup> hold(const Setup& setup, StageId id, PieceId piece, HeldBy held_by) {
    Setup next = setup;
    Stage* stage = next.find_stage(id);
    if (!stage) return stage_unknown(id);
    if (!pieces_present(setup, *stage).contains(piece))
        return base::bad_input(
            {"edit.piece_not_in_stage", {{"piece", setup.piece_name(piece)}, {"stage", stage->name}}});
    // Held by the set-up is what goes without saying: one value for one state.
    if (held_by == HeldBy::set_up)
        stage->held_by.erase(piece);
    else
        stage->held_by[piece] = held_by;
    return next;
}

Result<Setup> add_stage(const Setup& setup, std::string name) {
    if (name.empty()) return base::bad_input({"edit.stage_name_missing", {}});
    Setup next = setup;
    Stage stage;
    stage.id = StageId{next.next_id()};
    stage.name = std::move(name);
    if (!setup.stages.empty()) {
        stage.earlier.push_back(setup.stages.back().id);
        stage.lay = setup.stages.back().lay;
    }
    next.stages.push_back(std::move(stage));
    return next;
}

Result<Setup> set_order(const Setup& setup, StageId id, std::vector<Step> order) {
    Setup next = setup;
    Stage* stage = next.find_stage(id);
    if (!stage) return stage_unknown(id);
    const std::set<PieceId> pieces = pieces_present(setup, *stage);
    std::set<StepId> given;
    std::set<PieceId> loaded;
    for (const Stage& other : setup.stages)
        if (other.id != id)
            for (const Step& step : other.order) given.insert(step.id);
    for (Step& step : order) {
        if (!step.id.valid()) step.id = StepId{next.next_id()};
        if (!given.insert(step.id).second || step.id.value > next.last_id)
            return base::bad_input({"edit.step_twice", {{"step", std::int64_t{step.id.value}}}});
        for (const PlacementId placement : step.placements)
            if (!stage->find(placement)) return placement_unknown(placement);
        for (const PieceId piece : step.pieces)
            if (!pieces.contains(piece))
                return base::bad_input(
                    {"edit.piece_not_in_stage", {{"piece", setup.piece_name(piece)}, {"stage", stage->name}}});
        if (step.kind == StepKind::load)
            for (const PieceId piece : step.pieces)
                if (!loaded.insert(piece).second)
                    return base::bad_input({"edit.loaded_twice", {{"piece", setup.piece_name(piece)}}});
        for (const SeamId seam : step.seams) {
            const bool known = std::any_of(setup.weldments.begin(), setup.weldments.end(),
                                           [&](const WeldmentUse& use) { return use.frozen_seams.contains(seam); });
            if (!known) return base::bad_input({"edit.seam_unknown", {{"seam", std::int64_t{seam.value}}}});
        }
    }
    stage->order = std::move(order);
    return next;
}

}  // namespace setwright::setup
