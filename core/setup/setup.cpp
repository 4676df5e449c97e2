#include "core/setup/setup.h"

#include <algorithm>

namespace setwright::setup {

namespace {

bool same(const weldment::EndCut& a, const weldment::EndCut& b) {
    return a.kind == b.kind && a.angle_deg == b.angle_deg && a.plane_deg == b.plane_deg &&
           a.second_angle_deg == b.second_angle_deg && a.face == b.face;
}

bool same(const DrawnPiece& a, const DrawnPiece& b) {
    return a.id == b.id && a.name == b.name && a.section == b.section && a.length_mm == b.length_mm &&
           same(a.ends[0], b.ends[0]) && same(a.ends[1], b.ends[1]) && a.X_MP == b.X_MP;
}

bool same(const WeldmentUse::Frozen& a, const WeldmentUse::Frozen& b) {
    return a.fingerprint == b.fingerprint && a.X_MP == b.X_MP;
}

template <class T, class Before>
std::vector<T> sorted(std::vector<T> items, Before before) {
    std::stable_sort(items.begin(), items.end(), before);
    return items;
}

template <class T>
bool same_set(const std::vector<T>& a, const std::vector<T>& b) {
    return sorted(a, std::less<T>{}) == sorted(b, std::less<T>{});
}

bool same(const WeldmentUse& a, const WeldmentUse& b) {
    const auto by_id = [](const DrawnPiece& x, const DrawnPiece& y) { return x.id < y.id; };
    const auto drawn_a = sorted(a.drawn, by_id);
    const auto drawn_b = sorted(b.drawn, by_id);
    return a.id == b.id && a.file_name == b.file_name && a.linked_path == b.linked_path && a.sha256 == b.sha256 &&
           a.unit_factor == b.unit_factor && a.mirrored == b.mirrored && a.piece_edits == b.piece_edits &&
           a.seam_edits == b.seam_edits && a.frozen_seams == b.frozen_seams && a.important == b.important &&
           std::equal(a.frozen.begin(), a.frozen.end(), b.frozen.begin(), b.frozen.end(),
                      [](const auto& x, const auto& y) { return x.first == y.first && same(x.second, y.second); }) &&
           std::equal(drawn_a.begin(), drawn_a.end(), drawn_b.begin(), drawn_b.end(),
                      [](const DrawnPiece& x, const DrawnPiece& y) { return same(x, y); });
}

bool same(const Stage& a, const Stage& b) {
    const auto by_id = [](const Placement& x, const Placement& y) { return x.id < y.id; };
    return a.id == b.id && a.name == b.name && a.lay.side_down == b.lay.side_down && a.lay.yaw_deg == b.lay.yaw_deg &&
           a.lay.X_TM == b.lay.X_TM && same_set(a.pieces, b.pieces) && same_set(a.earlier, b.earlier) &&
           a.held_by == b.held_by && sorted(a.placements, by_id) == sorted(b.placements, by_id) && a.order == b.order &&
           a.repeat == b.repeat && a.as_set_mm == b.as_set_mm && a.measured == b.measured;
}

template <class Seq>
bool all_same(const Seq& a, const Seq& b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const auto& x, const auto& y) { return same(x, y); });
}

bool same_definitions(const Setup& a, const Setup& b) {
    return std::equal(a.components.begin(), a.components.end(), b.components.begin(), b.components.end(),
                      [](const auto& x, const auto& y) {
                          return x.first == y.first && (x.second == y.second || shop::component_json(*x.second) ==
                                                                                    shop::component_json(*y.second));
                      });
}

bool same_photos(const Setup& a, const Setup& b) {
    return std::equal(a.photos.begin(), a.photos.end(), b.photos.begin(), b.photos.end(),
                      [](const Photo& x, const Photo& y) { return x.sha256 == y.sha256 && x.caption == y.caption; });
}

}  // namespace

const char* key(HeldBy held_by) {
    switch (held_by) {
        case HeldBy::set_up:
            return "set_up";
        case HeldBy::nested:
            return "nested";
        case HeldBy::by_hand:
            return "by_hand";
    }
    return "set_up";
}

const char* key(StepKind kind) {
    switch (kind) {
        case StepKind::set:
            return "set";
        case StepKind::load:
            return "load";
        case StepKind::clamp_hard:
            return "clamp_hard";
        case StepKind::clamp_snug:
            return "clamp_snug";
        case StepKind::tack:
            return "tack";
        case StepKind::check:
            return "check";
        case StepKind::slacken:
            return "slacken";
        case StepKind::pull:
            return "pull";
        case StepKind::turn_over:
            return "turn_over";
        case StepKind::weld:
            return "weld";
        case StepKind::cool:
            return "cool";
        case StepKind::lift_out:
            return "lift_out";
        case StepKind::written:
            return "written";
    }
    return "written";
}

const Placement* Stage::find(PlacementId wanted) const {
    const auto found =
        std::find_if(placements.begin(), placements.end(), [&](const Placement& p) { return p.id == wanted; });
    return found == placements.end() ? nullptr : &*found;
}

HeldBy Stage::held(PieceId piece) const {
    const auto found = held_by.find(piece);
    return found == held_by.end() ? HeldBy::set_up : found->second;
}

const Stage* Setup::find_stage(StageId id) const {
    const auto found = std::find_if(stages.begin(), stages.end(), [&](const Stage& s) { return s.id == id; });
    return found == stages.end() ? nullptr : &*found;
}

Stage* Setup::find_stage(StageId id) {
    const auto found = std::find_if(stages.begin(), stages.end(), [&](const Stage& s) { return s.id == id; });
    return found == stages.end() ? nullptr : &*found;
}

const weldment::Piece* Setup::find_piece(PieceId id) const {
    for (const WeldmentUse& use : weldments)
        if (use.model)
            if (const weldment::Piece* piece = use.model->find(id)) return piece;
    return nullptr;
}

const weldment::Seam* Setup::find_seam(SeamId id) const {
    for (const WeldmentUse& use : weldments)
        if (use.model)
            if (const weldment::Seam* seam = use.model->find(id)) return seam;
    return nullptr;
}

const shop::Component* Setup::find_component(const std::string& id) const {
    const auto found = components.find(id);
    return found == components.end() ? nullptr : found->second.get();
}

std::string Setup::piece_name(PieceId id) const {
    for (const WeldmentUse& use : weldments) {
        const auto edit = use.piece_edits.find(id);
        if (edit != use.piece_edits.end() && !edit->second.name.empty()) return edit->second.name;
        for (const DrawnPiece& drawn : use.drawn)
            if (drawn.id == id && !drawn.name.empty()) return drawn.name;
    }
    const weldment::Piece* piece = find_piece(id);
    return piece && !piece->name.empty() ? piece->name : "piece " + std::to_string(id.value);
}

bool same(const Setup& a, const Setup& b) {
    return all_same(a.weldments, b.weldments) && all_same(a.stages, b.stages) && a.table == b.table &&
           same_definitions(a, b) && a.shelf == b.shelf && a.limits == b.limits && a.process == b.process &&
           a.shrink == b.shrink && a.stock == b.stock && a.display == b.display && a.title == b.title &&
           a.revisions == b.revisions && a.notes == b.notes && same_photos(a, b) && a.accepted == b.accepted &&
           a.rough == b.rough && a.last_id == b.last_id;
}

}  // namespace setwright::setup
