#include "app/tools/lay_tool.h"

#include <QLineF>
#include <cmath>

#include "core/setup/edit.h"

namespace setwright::app {

namespace {

using space::Vec3;

constexpr double click_pixels = 4;
/// Where no stop with marks fits the table. Common practice, no source.
constexpr double usual_step_mm = 5;
constexpr double quarter_deg = 90, fine_turn_deg = 15;

Vec3 in_steps(const Vec3& by, double x_mm, double y_mm, double z_mm) {
    return {x_mm * std::round(by.x() / x_mm), y_mm * std::round(by.y() / y_mm), z_mm * std::round(by.z() / z_mm)};
}

}  // namespace

double LayTool::step_mm(const Session& session) {
    const shop::Table& table = session.now().table;
    double least = 0;
    for (const auto& component : session.catalogue().components) {
        if (component->family != shop::Family::index_stop || !component->setting) continue;
        if (!shop::fits(*component, table.hole_mm, table.pitch_x_mm, table.pitch_y_mm)) continue;
        if (least == 0 || component->setting->step_mm < least) least = component->setting->step_mm;
    }
    return least > 0 ? least : usual_step_mm;
}

QString LayTool::hint() const {
    if (!desk().session.has_job()) return {};
    if (before_) return desk().words("tool.hint_lay_drag", {{"step", base::LengthArg{step_mm(desk().session)}}});
    return desk().words("tool.hint_lay");
}

void LayTool::press(const Pointer& pointer) {
    if (desk().session.has_job() && pointer.picked.piece()) pressed_ = pointer;
}

void LayTool::move(const Pointer& pointer) {
    Session& session = desk().session;
    if (!session.has_job()) return;
    if (pressed_ && !before_ && QLineF(pressed_->at, pointer.at).length() >= click_pixels) {
        before_ = viewer::make_scene(session.now(), session.stage(), desk().shapes);
        face_.reset();
        follow(pointer);
        Q_EMIT hint_changed();
        Q_EMIT overlay_changed();
        return;
    }
    if (before_) {
        follow(pointer);
        return;
    }
    std::optional<std::pair<PieceId, int>> face;
    if (const PieceId* id = pointer.picked.piece(); id && pointer.picked.face >= 0) {
        const weldment::Piece* piece = session.now().find_piece(*id);
        const space::Face& under = piece->solid->faces[static_cast<std::size_t>(pointer.picked.face)];
        if (under.surface.kind == space::SurfaceKind::plane) face = {*id, pointer.picked.face};
    }
    if (face == face_) return;
    face_ = face;
    Q_EMIT overlay_changed();
}

void LayTool::follow(const Pointer& pointer) {
    Session& session = desk().session;
    // Over the table's top as long as both ends of the way are there; square on from a side, across the line of sight.
    const auto way = [&] {
        if (pressed_->picked.on_table_T && pointer.picked.on_table_T)
            return Vec3(*pointer.picked.on_table_T - *pressed_->picked.on_table_T);
        const Vec3 off = pointer.ray.origin_T - pressed_->picked.point_T;
        return Vec3(off - pointer.ray.direction_T * pointer.ray.direction_T.dot(off));
    };
    const double step = step_mm(session);
    const bool by_holes = pointer.modifiers.testFlag(Qt::ControlModifier);
    const shop::Table& table = session.now().table;
    const Vec3 by = in_steps(way(), by_holes ? table.pitch_x_mm : step, by_holes ? table.pitch_y_mm : step, step);
    if (by == by_T_) return;
    const base::Result<setup::Setup> there = setup::shift_laid(session.now(), session.stage(), by);
    if (!there) return;
    by_T_ = by;
    corner_T_ = setup::laid_box(*there, *there->find_stage(session.stage())).min;
    session.try_out(by.isZero() ? nullptr : std::make_shared<const setup::Setup>(*there));
    Q_EMIT overlay_changed();
}

void LayTool::release(const Pointer& pointer) {
    if (!pressed_) return;
    Session& session = desk().session;
    if (before_) {
        follow(pointer);
        const Vec3 by = by_T_;
        reset();
        if (!by.isZero()) shift(by, "tool.label_lay_move");
        return;
    }
    const viewer::Picked picked = pressed_->picked;
    const auto face = face_;
    reset();
    if (!face || *picked.piece() != face->first) {
        session.say({"tool.not_flat", {}});
        return;
    }
    const std::vector<base::Text> name{{"tool.piece", {{"name", session.now().piece_name(face->first)}}}};
    if (session.apply(setup::lay_face_down(session.now(), session.stage(), face->first, face->second),
                      {"tool.label_face_down", {{"what", name}}}))
        session.say({"tool.face_down", {{"what", name}}});
}

void LayTool::shift(const Vec3& by_T, const char* label) {
    Session& session = desk().session;
    if (!session.apply(setup::shift_laid(session.now(), session.stage(), by_T), {label, {}})) return;
    const Vec3 corner = setup::laid_box(session.now(), session.in_stage()).min;
    session.say(
        {"tool.laid_at",
         {{"x", base::LengthArg{corner.x()}}, {"y", base::LengthArg{corner.y()}}, {"z", base::LengthArg{corner.z()}}}});
}

bool LayTool::key(const QKeyEvent& key) {
    Session& session = desk().session;
    if (!session.has_job()) return false;
    if (key.key() == Qt::Key_Escape) {
        if (!pressed_) return false;
        reset();
        return true;
    }
    if (before_) return false;
    const bool shifted = key.modifiers().testFlag(Qt::ShiftModifier);
    const shop::Table& table = session.now().table;
    const double step = step_mm(session);
    const double x = shifted ? step : table.pitch_x_mm, y = shifted ? step : table.pitch_y_mm;
    const double fine = session.now().table.nominal == base::LengthUnit::inch ? base::mm_per_inch / 16 : 1;
    const double z = shifted ? fine : step;
    switch (key.key()) {
        case Qt::Key_Right:
            shift({x, 0, 0}, "tool.label_lay_move");
            return true;
        case Qt::Key_Left:
            shift({-x, 0, 0}, "tool.label_lay_move");
            return true;
        case Qt::Key_Up:
            shift({0, y, 0}, "tool.label_lay_move");
            return true;
        case Qt::Key_Down:
            shift({0, -y, 0}, "tool.label_lay_move");
            return true;
        case Qt::Key_PageUp:
            shift({0, 0, z}, "tool.label_lay_raise");
            return true;
        case Qt::Key_PageDown:
            shift({0, 0, -z}, "tool.label_lay_lower");
            return true;
        case Qt::Key_R: {
            const double deg =
                (key.modifiers().testFlag(Qt::ControlModifier) ? fine_turn_deg : quarter_deg) * (shifted ? -1 : 1);
            session.apply(setup::turn_laid(session.now(), session.stage(), deg), {"tool.label_lay_turn", {}});
            return true;
        }
        default:
            return false;
    }
}

void LayTool::leave() {
    if (pressed_ || !face_) return;
    face_.reset();
    Q_EMIT overlay_changed();
}

void LayTool::reset() {
    const bool dragged = before_.has_value();
    pressed_.reset();
    face_.reset();
    before_.reset();
    by_T_.setZero();
    if (dragged) desk().session.try_out({});
    Q_EMIT hint_changed();
    Q_EMIT overlay_changed();
}

viewer::Overlay LayTool::overlay() const {
    viewer::Overlay over;
    over.face = face_;
    if (!before_ || by_T_.isZero()) return over;
    const viewer::Scene there = viewer::make_scene(*desk().session.shown(), desk().session.stage(), desk().shapes);
    for (const auto& [id, item] : there.items) {
        const auto was = before_->items.find(id);
        if (was != before_->items.end() && was->second.X_TS == item.X_TS) continue;
        over.hidden.insert(id);
        over.ghosts.push_back({item.shape, item.X_TS, viewer::Tone::plain});
    }
    // The way as a fitter measures it: so far east, so far north, so far up.
    Vec3 at = corner_T_ - by_T_;
    for (int axis = 0; axis < 3; ++axis) {
        if (by_T_[axis] == 0) continue;
        Vec3 to = at;
        to[axis] = corner_T_[axis];
        over.measures.push_back(
            {at, to, desk().words.length(std::abs(by_T_[axis])).toStdString(), viewer::Tone::plain});
        at = to;
    }
    over.notes.push_back({corner_T_,
                          desk()
                              .words("tool.corner_at", {{"x", base::LengthArg{corner_T_.x()}},
                                                        {"y", base::LengthArg{corner_T_.y()}},
                                                        {"z", base::LengthArg{corner_T_.z()}}})
                              .toStdString(),
                          viewer::Tone::plain});
    return over;
}

}  // namespace setwright::app
