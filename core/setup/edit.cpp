#include "core/setup/edit.h"

#include <algorithm>
#include <array>
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

Error piece_not_in(const Setup& setup, const Stage& stage, PieceId piece) {
    return base::bad_input({"edit.piece_not_in_stage", {{"piece", setup.piece_name(piece)}, {"stage", stage.name}}});
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

/// Every corner of every piece, not a box of boxes: a turned box would lie loosely around its weldment.
space::Aabb box_of(const Setup& setup, const Stage& stage, const Pose& X_TM) {
    space::Aabb box;
    for (const PieceId id : pieces_present(setup, stage)) {
        const weldment::Piece* piece = setup.find_piece(id);
        if (!piece || !piece->solid) continue;
        const Pose X_TP = X_TM * piece->X_MP;
        for (const Vec3& point : piece->solid->mesh.points) box.add(X_TP * point);
    }
    return box;
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

constexpr std::array all_sides{"-Z", "+Z", "-Y", "+Y", "-X", "+X"};

/// Numbers of a rotation that are a rounding off 0 or a unit are that.
constexpr double rounding = 1e-12;
constexpr double length_rounding_mm = 1e-9;

/// Of a turn worked out: exact where an axis of M stands upright, and where M lies square.
space::Mat3 rotation_without_rounding(space::Mat3 rotation) {
    for (double& entry : rotation.reshaped())
        if (std::abs(entry - std::round(entry)) < rounding) entry = std::round(entry) + 0.0;
    for (const char* side : all_sides) {
        const space::Mat3 X_turn = rotation * base_turn(side)->rotation().transpose();
        if (std::abs(X_turn(2, 2) - 1) > rounding) continue;
        const double yaw_deg = base::round_json(Angle::rad(std::atan2(X_turn(1, 0), X_turn(0, 0))).deg());
        const space::Mat3 exact = Pose::turn_z(Angle::deg(yaw_deg)).rotation() * base_turn(side)->rotation();
        if ((exact - rotation).cwiseAbs().maxCoeff() < rounding) return exact;
    }
    return rotation;
}

/// Lengths that are a rounding off a whole millionth are that; others stay, or turning on and on would drift.
Vec3 without_rounding(const Vec3& lengths_mm) {
    return lengths_mm.unaryExpr([](double length_mm) {
        const double whole = base::round_json(length_mm);
        return std::abs(whole - length_mm) < length_rounding_mm ? whole : length_mm;
    });
}

/// The weldment in this rotation, the middle of its box over the old place and its lowest point at the old height.
Result<Pose> over_its_place(const Setup& setup, const Stage& stage, const space::Mat3& rotation) {
    const space::Aabb old = laid_box(setup, stage);
    if (old.empty()) return base::bad_input({"edit.nothing_to_lay", {{"stage", stage.name}}});
    const space::Aabb turned = box_of(setup, stage, Pose(rotation, Vec3::Zero()));
    Vec3 by = old.centre() - turned.centre();
    by.z() = old.min.z() - turned.min.z();
    return Pose(rotation, without_rounding(by));
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

Result<Setup> with_placement(const Setup& setup, StageId id, PlacementId placement_id,
                             const std::function<void(Placement&)>& change) {
    Setup next = setup;
    Stage* stage = next.find_stage(id);
    if (!stage) return stage_unknown(id);
    Placement* placement = find(*stage, placement_id);
    if (!placement) return placement_unknown(placement_id);
    change(*placement);
    return next;
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
    const space::Aabb box = box_of(setup, *stage, X_turn);
    if (box.empty()) return base::bad_input({"edit.nothing_to_lay", {{"stage", stage->name}}});
    return laid(setup, id, {std::string(side), yaw_deg, Pose::move(corner_T - box.min) * X_turn});
}

Lay lay_of(const Pose& X_TM) {
    for (const char* side : all_sides) {
        const Pose X_turn = X_TM * base_turn(side)->inverse();
        const double off_deg = Angle::rad(std::acos(std::clamp(X_turn.rotation()(2, 2), -1.0, 1.0))).deg();
        if (off_deg > base::limits::parallel_deg) continue;
        const double yaw = std::atan2(X_turn.rotation()(1, 0), X_turn.rotation()(0, 0));
        const double yaw_deg = base::round_json(Angle::rad(yaw).deg());
        // Half a turn is half a turn either way round.
        return {side, yaw_deg == -180 ? 180 : yaw_deg, X_TM};
    }
    return {"", 0, X_TM};
}

Result<Setup> lay(const Setup& setup, StageId id, const Pose& X_TM) {
    return laid(setup, id, lay_of(X_TM));
}

Result<Setup> lay_face_down(const Setup& setup, StageId id, PieceId piece_id, int face) {
    const Stage* stage = setup.find_stage(id);
    if (!stage) return stage_unknown(id);
    const weldment::Piece* piece = setup.find_piece(piece_id);
    if (!piece || !piece->solid || !pieces_present(setup, *stage).contains(piece_id))
        return piece_not_in(setup, *stage, piece_id);
    const auto& faces = piece->solid->faces;
    const bool there = face >= 0 && face < std::ssize(faces);
    if (!there || faces[static_cast<std::size_t>(face)].surface.kind != space::SurfaceKind::plane)
        return base::bad_input({"edit.face_not_flat", {{"piece", setup.piece_name(piece_id)}}});
    const Vec3 out_T =
        (stage->lay.X_TM * piece->X_MP).turn(faces[static_cast<std::size_t>(face)].surface.axis).normalized();
    const Vec3 across = out_T.cross(-Vec3::UnitZ());
    space::Mat3 turn = space::Mat3::Identity();
    if (across.norm() > rounding) {
        const double angle = std::atan2(across.norm(), -out_T.z());
        turn = Eigen::AngleAxisd(angle, across.normalized()).toRotationMatrix();
    } else if (out_T.z() > 0) {
        // Straight up: every way is as short; over its length, as +Z down goes.
        turn = Pose::turn_x(Angle::deg(180)).rotation();
    }
    Result<Pose> X_TM = over_its_place(setup, *stage, rotation_without_rounding(turn * stage->lay.X_TM.rotation()));
    if (!X_TM) return X_TM.error();
    return lay(setup, id, *X_TM);
}

Result<Setup> turn_laid(const Setup& setup, StageId id, double deg) {
    const Stage* stage = setup.find_stage(id);
    if (!stage) return stage_unknown(id);
    if (!std::isfinite(deg)) return base::bad_input({"edit.lay_not_a_number", {}});
    const Lay& now = stage->lay;
    // Where a side is down, from its yaw: then turns do not add up their roundings.
    std::optional<Pose> turned;
    const double yaw_deg = base::round_json(std::remainder(now.yaw_deg + deg, 360.0));
    if (const auto side = base_turn(now.side_down)) {
        const Pose square = Pose::turn_z(Angle::deg(now.yaw_deg)) * *side;
        if ((square.rotation() - now.X_TM.rotation()).cwiseAbs().maxCoeff() < 1e-9)
            turned = Pose::turn_z(Angle::deg(yaw_deg)) * *side;
    }
    const space::Mat3 rotation =
        turned ? turned->rotation()
               : rotation_without_rounding(Pose::turn_z(Angle::deg(deg)).rotation() * now.X_TM.rotation());
    Result<Pose> X_TM = over_its_place(setup, *stage, rotation);
    if (!X_TM) return X_TM.error();
    return lay(setup, id, *X_TM);
}

Result<Setup> shift_laid(const Setup& setup, StageId id, const Vec3& by_T) {
    const Stage* stage = setup.find_stage(id);
    if (!stage) return stage_unknown(id);
    if (!by_T.allFinite()) return base::bad_input({"edit.lay_not_a_number", {}});
    Lay shifted = stage->lay;
    const Vec3 at = shifted.X_TM.position() + by_T;
    shifted.X_TM = Pose(shifted.X_TM.rotation(), without_rounding(at));
    return laid(setup, id, std::move(shifted));
}

space::Aabb laid_box(const Setup& setup, const Stage& stage) {
    return box_of(setup, stage, stage.lay.X_TM);
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
    drop_unused_definitions(placed.setup);
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
    if (!pieces_present(setup, *stage).contains(piece)) return piece_not_in(setup, *stage, piece);
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

Result<Setup> name_stage(const Setup& setup, StageId id, std::string name) {
    Setup next = setup;
    Stage* stage = next.find_stage(id);
    if (!stage) return stage_unknown(id);
    stage->name = std::move(name);
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
            if (!pieces.contains(piece)) return piece_not_in(setup, *stage, piece);
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

Result<Setup> lock(const Setup& setup, StageId id, PlacementId placement_id, bool locked) {
    return with_placement(setup, id, placement_id, [&](Placement& placement) { placement.locked = locked; });
}

Result<Setup> note(const Setup& setup, StageId id, PlacementId placement_id, std::string note) {
    return with_placement(setup, id, placement_id, [&](Placement& placement) { placement.note = std::move(note); });
}

Setup set_title(const Setup& setup, TitleBlock title) {
    Setup next = setup;
    next.title = std::move(title);
    return next;
}

Setup set_display(const Setup& setup, Display display) {
    Setup next = setup;
    next.display = std::move(display);
    return next;
}

Setup set_notes(const Setup& setup, std::string notes) {
    Setup next = setup;
    next.notes = std::move(notes);
    return next;
}

Setup accept(const Setup& setup, Accepted finding) {
    Setup next = unaccept(setup, finding);
    next.accepted.push_back(std::move(finding));
    return next;
}

Setup unaccept(const Setup& setup, const Accepted& finding) {
    Setup next = setup;
    std::erase_if(next.accepted,
                  [&](const Accepted& a) { return a.rule == finding.rule && a.subjects == finding.subjects; });
    return next;
}

}  // namespace setwright::setup
