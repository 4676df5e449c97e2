#include "app/tools/seat_drag.h"

#include <QStringList>
#include <cmath>

#include "core/base/limits.h"
#include "core/check/report.h"
#include "core/setup/edit.h"
#include "core/setup/seating.h"

namespace setwright::app {

namespace {

namespace limits = base::limits;
using setup::Host;
using space::Vec3;
using viewer::Tone;

/// Holes that an arrow goes with Ctrl.
constexpr int stride = 5;

std::set<PlacementId> with_guests(const setup::Stage& stage, PlacementId first) {
    std::set<PlacementId> all;
    if (first.valid()) all.insert(first);
    for (bool grown = first.valid(); grown;) {
        grown = false;
        for (const setup::Placement& placement : stage.placements)
            if (placement.seat.host.kind == Host::Kind::placement && all.contains(placement.seat.host.placement))
                grown |= all.insert(placement.id).second;
    }
    return all;
}

std::shared_ptr<const shop::Component> component_of(const setup::Setup& setup, StageId stage, PlacementId placement) {
    return setup.components.at(setup.find_stage(stage)->find(placement)->component);
}

Vec3 nearest_on(const viewer::Ray& ray, const Vec3& to) {
    return ray.origin_T + ray.direction_T * ray.direction_T.dot(to - ray.origin_T);
}

std::optional<std::array<int, 2>> arrow(int key) {
    switch (key) {
        case Qt::Key_Right:
            return {{1, 0}};
        case Qt::Key_Left:
            return {{-1, 0}};
        case Qt::Key_Up:
            return {{0, 1}};
        case Qt::Key_Down:
            return {{0, -1}};
        default:
            return {};
    }
}

}  // namespace

std::optional<SeatChange> change_asked(const QKeyEvent& key, const setup::Setup& setup, const setup::Stage& stage,
                                       const shop::Component& component, const setup::Seat& seat, PlacementId self,
                                       const base::Text& what) {
    const Qt::KeyboardModifiers modifiers = key.modifiers() & ~Qt::KeypadModifier;
    const bool control = modifiers == Qt::ControlModifier;
    if (modifiers != Qt::NoModifier && modifiers != Qt::ShiftModifier && !control) return {};
    const int back = modifiers == Qt::ShiftModifier ? -1 : 1;
    const auto change = [&](std::optional<setup::Seat> next, const char* label, const char* none) {
        const std::vector<base::Text> named{what};
        return SeatChange{std::move(next), {label, {{"what", named}}}, {none, {{"what", named}}}, 0, 0};
    };

    if (const auto by = arrow(key.key())) {
        if (back < 0) return {};
        const int columns = (*by)[0] * (control ? stride : 1), rows = (*by)[1] * (control ? stride : 1);
        SeatChange moved = change(setup::next_hole(setup, stage, component, seat, self, columns, rows),
                                  "tool.label_move", "tool.no_hole");
        moved.columns = columns;
        moved.rows = rows;
        return moved;
    }
    if (control) return {};
    switch (key.key()) {
        case Qt::Key_R:
            return change(setup::next_turn(setup, stage, component, seat, self, back), "tool.label_turn",
                          "tool.no_turn");
        case Qt::Key_H:
            return change(setup::other_hand(setup, stage, component, seat, self), "tool.label_hand", "tool.no_hand");
        case Qt::Key_Plus:
        case Qt::Key_Equal:
            return change(setup::next_setting(setup, stage, component, seat, self, 1), "tool.label_setting",
                          component.setting ? "tool.no_setting" : "tool.no_settings");
        case Qt::Key_Minus:
        case Qt::Key_Underscore:
            return change(setup::next_setting(setup, stage, component, seat, self, -1), "tool.label_setting",
                          component.setting ? "tool.no_setting" : "tool.no_settings");
        case Qt::Key_PageUp:
        case Qt::Key_PageDown:
            return change(setup::next_plate(setup, stage, component, seat, self, key.key() == Qt::Key_PageUp ? 1 : -1),
                          "tool.label_plate", component.plates.empty() ? "tool.no_plates" : "tool.no_plate");
        case Qt::Key_P:
            return change(setup::next_packers(setup, stage, component, seat, self, setup::Packer::Where::under, back),
                          "tool.label_under", component.packers_under ? "tool.no_under" : "tool.never_under");
        case Qt::Key_F:
            return change(setup::next_packers(setup, stage, component, seat, self, setup::Packer::Where::face, back),
                          "tool.label_face", component.packers_at_face ? "tool.no_face" : "tool.never_face");
        default:
            return {};
    }
}

base::Text thing(const setup::Setup& setup, const check::Subject& subject) {
    if (const auto* piece = std::get_if<PieceId>(&subject)) return {"tool.piece", {{"name", setup.piece_name(*piece)}}};
    if (const auto* placement = std::get_if<PlacementId>(&subject)) {
        for (const setup::Stage& stage : setup.stages)
            if (const setup::Placement* found = stage.find(*placement))
                return {"tool.block", {{"no", std::int64_t{found->no}}}};
        return {"tool.new_block", {}};
    }
    if (const auto* seam = std::get_if<SeamId>(&subject)) return {"tool.weld", {{"no", std::int64_t{seam->value}}}};
    if (const auto* hole = std::get_if<shop::Hole>(&subject)) return {"tool.hole", {{"hole", shop::hole_label(*hole)}}};
    const std::string& name = std::get<std::string>(subject);
    if (name == "table") return {"tool.table", {}};
    return {"tool.named", {{"name", name}}};
}

QString in_lines(const QString& text, int columns) {
    QString out, line;
    for (const QString& word : text.split(' ')) {
        if (!line.isEmpty() && line.size() + 1 + word.size() > columns) {
            out += line + '\n';
            line.clear();
        }
        line += (line.isEmpty() ? "" : " ") + word;
    }
    return out + line;
}

SeatDrag::SeatDrag(Desk& desk, PlacementId placement, const Pointer& grabbed)
    : desk_(desk),
      knowing_(desk.session.knowing()),
      stage_(desk.session.stage()),
      self_(placement),
      component_(component_of(*knowing_, stage_, placement)),
      probe_(knowing_, stage_, component_, placement),
      moving_(with_guests(stage(), placement)) {
    const setup::Placement& taken = *stage().find(placement);
    what_ = thing(*knowing_, placement);
    start_ = like_ = taken.seat;
    step(taken.seat);
    grip_T_ = at_T_ - point_under(grabbed, taken.seat.host);
    pointer_T_ = nearest_on(grabbed.ray, grabbed.picked.point_T);
}

SeatDrag::SeatDrag(Desk& desk, std::shared_ptr<const shop::Component> component, std::optional<setup::Seat> like)
    : desk_(desk),
      knowing_(desk.session.knowing()),
      stage_(desk.session.stage()),
      component_(std::move(component)),
      probe_(knowing_, stage_, component_),
      what_(check::component_name(*component_)),
      like_(std::move(like)) {}

SeatDrag::~SeatDrag() {
    if (tried_) desk_.session.try_out({});
}

setup::Stage SeatDrag::bare_stage(const Host& host) const {
    std::set<PlacementId> carrying;
    for (const Host* on = &host; on && on->kind == Host::Kind::placement;) {
        const setup::Placement* block = stage().find(on->placement);
        if (!block || !carrying.insert(block->id).second) break;
        on = &block->seat.host;
    }
    setup::Stage bare = stage();
    std::erase_if(bare.placements, [&](const setup::Placement& p) { return !carrying.contains(p.id); });
    return bare;
}

std::optional<Host> SeatDrag::host_under(const Pointer& pointer) const {
    const viewer::Picked& picked = pointer.picked;
    if (const PlacementId* block = picked.placement()) {
        if (auto face = setup::face_under(*knowing_, stage(), *block, picked.point_T, picked.normal_T)) return face;
    }
    if (const PieceId* id = picked.piece(); id && !setup::needs_hole(*component_) && picked.face >= 0) {
        const weldment::Piece& piece = *knowing_->find_piece(*id);
        const space::Face& face = piece.solid->faces[static_cast<std::size_t>(picked.face)];
        if (face.surface.kind == space::SurfaceKind::plane) {
            Host host;
            host.kind = Host::Kind::piece;
            host.pieces = {*id};
            host.piece_faces = {weldment::face_key(piece, picked.face)};
            return host;
        }
    }
    // Behind an item lies the table too, but what is held over its present host stays on it.
    if (picked.kind == viewer::Picked::Kind::table || (!seat_ && picked.hole)) return Host{};
    return seat_ ? std::optional(seat_->host) : std::nullopt;
}

Vec3 SeatDrag::point_under(const Pointer& pointer, const Host& host) const {
    if (host.kind == Host::Kind::table && pointer.picked.on_table_T) return *pointer.picked.on_table_T;
    const bool same = seat_ && seat_->host == host;
    if (!same && pointer.picked.kind != viewer::Picked::Kind::nothing) return pointer.picked.point_T;
    return nearest_on(pointer.ray, at_T_);
}

std::optional<setup::Seat> SeatDrag::seat_under(const Pointer& pointer) const {
    const std::optional<Host> host = host_under(pointer);
    if (!host) return {};
    const setup::Stage bare = bare_stage(*host);
    const bool as_grabbed = start_ && start_->host == *host;
    const Vec3 at = point_under(pointer, *host) + (as_grabbed ? grip_T_ : Vec3::Zero());
    const std::optional<setup::Seat>& model = seat_ ? seat_ : like_;
    if (model) {
        setup::Seat like = *model;
        like.host = *host;
        if (auto seat = setup::nearest_seat(*knowing_, bare, *component_, like, at)) return seat;
    }
    if (model && model->host == *host) return {};
    return setup::first_seat(*knowing_, bare, *component_, *host, at);
}

bool SeatDrag::step(const setup::Seat& seat) {
    if (seat_ == seat) return false;
    seat_ = seat;
    probed_ = probe_.at(seat);
    if (probed_.posed) {
        ghosts_.clear();
        ghosts_.push_back({desk_.shapes.of(*component_, seat, *probed_.posed), probed_.posed->X_TC});
        for (const setup::Posed& guest : probed_.guests) {
            const setup::Placement* placement = stage().find(guest.id);
            ghosts_.push_back(
                {desk_.shapes.of(*knowing_->find_component(placement->component), placement->seat, guest), guest.X_TC});
        }
        at_T_ = probed_.posed->X_TC.position();
        top_T_ = Vec3(at_T_.x(), at_T_.y(), probed_.posed->height_mm);
    }
    // Where it was taken up there is nothing to try out.
    if (base::Result<setup::Setup> next = moved() ? result() : base::Result<setup::Setup>(base::Error{}); next) {
        tried_ = true;
        desk_.session.try_out(std::make_shared<const setup::Setup>(std::move(*next)));
    } else if (tried_) {
        tried_ = false;
        desk_.session.try_out({});
    }
    return true;
}

bool SeatDrag::follow(const Pointer& pointer) {
    const std::optional<setup::Seat> seat = seat_under(pointer);
    const bool came = seat && step(*seat);
    pointer_T_ = nearest_on(pointer.ray, at_T_);
    return came;
}

bool SeatDrag::key(const QKeyEvent& key) {
    if (!seat_) return false;
    const auto change = change_asked(key, *knowing_, stage(), *component_, *seat_, self_, what_);
    if (!change) return false;
    if (!change->seat) {
        desk_.session.say(change->none);
        return true;
    }
    // It has left the pointer: its note goes with it.
    if (change->columns != 0 || change->rows != 0) pointer_T_.reset();
    step(*change->seat);
    return true;
}

base::Result<setup::Setup> SeatDrag::result() const {
    SETWRIGHT_ASSERT(seat_, "a drag ends in an edit only where it has come to a seat");
    if (self_.valid()) return setup::move(*knowing_, stage_, self_, *seat_);
    base::Result<setup::Placed> placed = setup::place(*knowing_, stage_, component_, *seat_);
    if (!placed) return placed.error();
    return std::move(placed->setup);
}

QString SeatDrag::note() const {
    QStringList lines{QString::fromStdString(probed_.callout)};
    if (probed_.blocked || !probed_.posed) {
        lines += in_lines(desk_.words(probed_.why), 46);
        return lines.join('\n');
    }
    if (!probed_.nearest) {
        lines += desk_.words("tool.clear_beyond", {{"distance", base::LengthArg{limits::clearance_horizon_mm}}});
    } else {
        const bool tight = probed_.nearest->distance_mm < probed_.limit_mm;
        lines += desk_.words(tight ? "tool.clear_tight" : "tool.clear_to",
                             {{"distance", base::LengthArg{probed_.nearest->distance_mm}},
                              {"other", std::vector<base::Text>{thing(*knowing_, probed_.nearest->other)}},
                              {"limit", base::LengthArg{probed_.limit_mm}}});
    }
    std::set<std::string> named;
    std::vector<base::Text> touched;
    for (const check::Contact& contact : probed_.contacts)
        if (named.insert(knowing_->piece_name(contact.piece)).second)
            touched.push_back(thing(*knowing_, contact.piece));
    if (!touched.empty()) lines += desk_.words("tool.touches", {{"pieces", std::move(touched)}});
    return lines.join('\n');
}

viewer::Overlay SeatDrag::overlay() const {
    viewer::Overlay over;
    for (const PlacementId id : moving_) over.hidden.insert(id);
    if (!seat_) return over;
    const bool bad = probed_.blocked || !probed_.posed;
    const bool tight = probed_.nearest && probed_.nearest->distance_mm < probed_.limit_mm;
    const Tone tone = bad ? Tone::bad : tight ? Tone::warn : probed_.contacts.empty() ? Tone::plain : Tone::good;
    for (const Ghost& ghost : ghosts_) over.ghosts.push_back({ghost.shape, ghost.X_TS, tone});
    for (const check::Contact& contact : probed_.contacts)
        over.touches.push_back({contact.point_T, contact.normal_T, contact.patch_T,
                                std::abs(contact.gap_mm) <= limits::exact_face_mm ? Tone::good : Tone::warn});
    if (probed_.nearest && !probed_.nearest->overlap)
        over.measures.push_back({probed_.nearest->on_placement_T, probed_.nearest->on_other_T,
                                 desk_.words.length(probed_.nearest->distance_mm).toStdString(),
                                 tight ? Tone::warn : Tone::plain});
    over.notes.push_back({pointer_T_.value_or(top_T_), note().toStdString(), bad ? Tone::bad : tone});
    if (seat_->host.kind == Host::Kind::table && setup::needs_hole(*component_)) over.hole = seat_->hole;
    return over;
}

bool SeatDrag::passes(const viewer::ItemId& item) const {
    const auto* placement = std::get_if<PlacementId>(&item);
    return !placement || !moving_.contains(*placement);
}

}  // namespace setwright::app
