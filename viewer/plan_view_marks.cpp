#include "viewer/plan_view_marks.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace setwright::viewer {

namespace {

using space::Vec3;

QPen pen_of(const QColor& colour, double width, Qt::PenStyle style = Qt::SolidLine) {
    QPen pen(colour, width, style, Qt::RoundCap, Qt::RoundJoin);
    pen.setCosmetic(true);
    return pen;
}

/// A line with a rim of the ground's colour, so that it stands out on bodies of any colour.
void stroke(const PlanPaper& paper, const QPainterPath& path, const QColor& colour, double width,
            Qt::PenStyle style = Qt::SolidLine) {
    QColor rim = paper.palette.ground;
    rim.setAlpha(200);
    paper.painter.setBrush(Qt::NoBrush);
    paper.painter.setPen(pen_of(rim, width + 2.5));
    paper.painter.drawPath(path);
    paper.painter.setPen(pen_of(colour, width, style));
    paper.painter.drawPath(path);
}

QPointF unit(const QPointF& v) {
    const double length = std::hypot(v.x(), v.y());
    return length > 0 ? v / length : QPointF(1, 0);
}

QPointF left_of(const QPointF& v) {
    return {v.y(), -v.x()};
}

/// Two strokes at `tip`, pointing along `way`.
void add_head(QPainterPath& path, const QPointF& tip, const QPointF& way, double size) {
    const QPointF side = left_of(way);
    path.moveTo(tip - way * size + side * size * 0.6);
    path.lineTo(tip);
    path.lineTo(tip - way * size - side * size * 0.6);
}

void add_cross(QPainterPath& path, const QPointF& at, double r) {
    path.moveTo(at + QPointF(-r, -r));
    path.lineTo(at + QPointF(r, r));
    path.moveTo(at + QPointF(-r, r));
    path.lineTo(at + QPointF(r, -r));
}

void draw_ghost(const PlanPaper& paper, const Overlay::Ghost& ghost) {
    if (!ghost.shape) return;
    QPainter& painter = paper.painter;
    Item item;
    item.shape = ghost.shape;
    item.X_TS = ghost.X_TS;
    const FlatBody& body = paper.body(item);
    const QTransform to_widget = paper.of(ghost.X_TS);
    const bool bad = ghost.tone == Tone::bad;
    const QColor colour = ghost.tone == Tone::plain ? paper.palette.selected : paper.colour(ghost.tone);
    const QPainterPath outline = to_widget.map(body.outline);
    QColor fill = ghost.tone == Tone::plain ? paper.palette.placement : colour;
    fill.setAlpha(bad ? 60 : 130);
    painter.fillPath(outline, fill);
    if (bad) painter.fillPath(outline, QBrush(colour, Qt::BDiagPattern));
    QColor line = bad ? colour : paper.palette.placement_edge;
    line.setAlpha(150);
    painter.setPen(pen_of(line, 1));
    for (const FlatLayer& layer : body.layers)
        for (const QPolygonF& polyline : layer.lines) painter.drawPolyline(to_widget.map(polyline));
    stroke(paper, outline, colour, 2.2, bad ? Qt::DashLine : Qt::SolidLine);
}

void draw_item_outline(const PlanPaper& paper, const Item& item, const QColor& colour, double width, int fill) {
    const QPainterPath outline = paper.of(item.X_TS).map(paper.body(item).outline);
    QColor wash = colour;
    wash.setAlpha(fill);
    paper.painter.fillPath(outline, wash);
    stroke(paper, outline, colour, width);
}

void draw_face(const PlanPaper& paper, const Scene& scene, const std::pair<PieceId, int>& face) {
    const auto item = scene.items.find(face.first);
    if (item == scene.items.end()) return;
    const FlatFace flat =
        flatten_face(*item->second.shape, face.second, paper.camera.R_VT() * item->second.X_TS.rotation());
    const QTransform to_widget = paper.of(item->second.X_TS);
    if (!flat.line.isEmpty()) {
        QPainterPath line;
        line.addPolygon(to_widget.map(flat.line));
        stroke(paper, line, paper.palette.selected, 5);
        return;
    }
    const QPainterPath area = to_widget.map(flat.area);
    QColor wash = paper.palette.selected;
    wash.setAlpha(70);
    paper.painter.fillPath(area, wash);
    wash.setAlpha(150);
    paper.painter.fillPath(area, QBrush(wash, Qt::FDiagPattern));
    stroke(paper, area, paper.palette.selected, 2);
}

void draw_touch(const PlanPaper& paper, const Overlay::Touch& touch) {
    QPainter& painter = paper.painter;
    const QColor colour = paper.colour(touch.tone);
    if (touch.patch.size() > 1) {
        QPolygonF patch;
        for (const Vec3& p : touch.patch) patch.append(paper.at(p));
        QPainterPath path;
        path.addPolygon(patch);
        path.closeSubpath();
        QColor wash = colour;
        wash.setAlpha(90);
        painter.fillPath(path, wash);
        stroke(paper, path, colour, 3);
    }
    const QPointF at = paper.at(touch.at);
    painter.setPen(pen_of(paper.palette.ground, 1.5));
    painter.setBrush(colour);
    switch (touch.tone) {
        case Tone::plain:
        case Tone::good:
            painter.drawEllipse(at, 5, 5);
            break;
        case Tone::warn:
            painter.drawPolygon(QPolygonF{at + QPointF(0, -7), at + QPointF(6.5, 5), at + QPointF(-6.5, 5)});
            break;
        case Tone::bad: {
            QPainterPath cross;
            add_cross(cross, at, 5);
            stroke(paper, cross, colour, 3);
        }
    }
}

/// Rectangles already written on: texts go beside each other where they can.
using Taken = std::vector<QRectF>;

double overlap(const QRectF& r, const Taken& taken) {
    double sum = 0;
    for (const QRectF& other : taken) {
        const QRectF both = r.intersected(other);
        if (both.isValid()) sum += both.width() * both.height();
    }
    return sum;
}

/// The first of the places with the least overlap, moved inside the paper.
QRectF place_text(const PlanPaper& paper, const QSizeF& size, const std::vector<QPointF>& middles, Taken& taken) {
    QRectF best;
    double least = -1;
    for (const QPointF& middle : middles) {
        QRectF r(QPointF(), size);
        r.moveCenter(middle);
        const QRectF& in = paper.inside;
        const QPointF wanted = r.center();
        r.moveLeft(std::max(in.left() + 2, std::min(r.left(), in.right() - 2 - r.width())));
        r.moveTop(std::max(in.top() + 2, std::min(r.top(), in.bottom() - 2 - r.height())));
        const QPointF moved = r.center() - wanted;
        const double cost = overlap(r, taken) + 3 * std::hypot(moved.x(), moved.y());
        if (least >= 0 && cost >= least) continue;
        least = cost;
        best = r;
    }
    taken.push_back(best);
    return best;
}

void draw_measure(const PlanPaper& paper, const Overlay::Measure& measure, Taken& taken) {
    const QPointF a = paper.at(measure.from), b = paper.at(measure.to);
    const QColor colour = measure.tone == Tone::plain ? paper.palette.label : paper.colour(measure.tone);
    const double length = std::hypot(b.x() - a.x(), b.y() - a.y());
    QPainterPath path;
    const QPointF way = unit(b - a);
    if (length < 3) {
        // Along the eye: a ring around where it is.
        path.addEllipse((a + b) / 2, 5, 5);
    } else {
        const QPointF tick = left_of(way) * 6;
        path.moveTo(a - tick);
        path.lineTo(a + tick);
        path.moveTo(b - tick);
        path.lineTo(b + tick);
        path.moveTo(a);
        path.lineTo(b);
    }
    stroke(paper, path, colour, 1.8, measure.tone == Tone::bad ? Qt::DashLine : Qt::SolidLine);
    const QString text = QString::fromStdString(measure.text);
    if (text.isEmpty()) return;
    const QSizeF size = text_size(paper.painter, text) + QSizeF(4, 2);
    const QPointF middle = (a + b) / 2;
    const auto beside = [&](const QPointF& side) {
        return middle + QPointF(side.x() * (size.width() / 2 + 7), side.y() * (size.height() / 2 + 7));
    };
    const QPointF side = left_of(way);
    std::vector<QPointF> middles{beside(side), beside(-side), beside(QPointF(1, -1)), beside(QPointF(1, 1))};
    if (length > size.width() + 30 || (length > size.height() + 30 && std::abs(way.y()) > 0.9))
        middles.insert(middles.begin(), middle);
    const QRectF r = place_text(paper, size, middles, taken);
    QColor back = paper.palette.ground;
    back.setAlpha(225);
    paper.painter.setPen(Qt::NoPen);
    paper.painter.setBrush(back);
    paper.painter.drawRoundedRect(r, 3, 3);
    write(paper.painter, r.center(), text, colour, paper.palette.ground);
}

void draw_motion(const PlanPaper& paper, const Overlay::Motion& motion) {
    const QColor colour = paper.palette.warn;
    const QPointF at = paper.at(motion.at);
    const Vec3 axis = paper.camera.R_VT() * motion.axis.normalized();
    const QPointF along(axis.x(), -axis.y());
    const double seen = std::hypot(along.x(), along.y());
    QPainterPath path;
    constexpr double reach = 40, head = 9;
    if (!motion.turns && seen > 0.25) {
        const QPointF way = unit(along);
        path.moveTo(at - way * reach);
        path.lineTo(at + way * reach);
        add_head(path, at + way * reach, way, head);
        add_head(path, at - way * reach, -way, head);
    } else if (!motion.turns) {
        // Towards the eye and away from it: the point of an arrow and the feathers of one.
        constexpr double r = 9, apart = 12;
        path.addEllipse(at - QPointF(apart, 0), r, r);
        path.addEllipse(at - QPointF(apart, 0), 1.5, 1.5);
        path.addEllipse(at + QPointF(apart, 0), r, r);
        add_cross(path, at + QPointF(apart, 0), r * std::numbers::sqrt2 / 2);
    } else {
        // An arc about the axis, as wide as the axis leans towards the eye.
        const QPointF way = unit(along);
        const QPointF side = left_of(way);
        constexpr double r = 24;
        const double narrow = std::max(0.42, std::abs(axis.z()));
        const auto on_arc = [&](double degrees) {
            const double t = degrees * std::numbers::pi / 180;
            return at + side * (r * std::cos(t)) + way * (r * narrow * std::sin(t));
        };
        constexpr int from = -60, to = 240;
        path.moveTo(on_arc(from));
        for (int t = from + 10; t <= to; t += 10) path.lineTo(on_arc(t));
        add_head(path, on_arc(to), unit(on_arc(to) - on_arc(to - 20)), 8);
        add_head(path, on_arc(from), unit(on_arc(from) - on_arc(from + 20)), 8);
        if (seen > 0.25) {
            path.moveTo(at - way * (r + 14));
            path.lineTo(at + way * (r + 14));
        } else {
            path.addEllipse(at, 2, 2);
        }
    }
    stroke(paper, path, colour, 3);
}

void draw_spot(const PlanPaper& paper, const Overlay::Spot& spot, Taken& taken) {
    QPainter& painter = paper.painter;
    const QColor colour = spot.tone == Tone::plain ? paper.palette.selected : paper.colour(spot.tone);
    const QString text = QString::fromStdString(spot.text);
    const double r = text.isEmpty() ? 6 : std::max(11.0, text_size(painter, text).width() / 2 + 5);
    const QPointF at = paper.at(spot.at);
    painter.setBrush(paper.palette.ground);
    painter.setPen(pen_of(paper.palette.ground, 5));
    painter.drawEllipse(at, r, r);
    painter.setPen(pen_of(colour, 2.2, spot.tone == Tone::bad ? Qt::DotLine : Qt::SolidLine));
    painter.drawEllipse(at, r, r);
    if (spot.tone == Tone::bad) painter.drawLine(at + QPointF(-r, r) * 0.7, at + QPointF(r, -r) * 0.7);
    if (!text.isEmpty()) write(painter, at, text, colour, paper.palette.ground);
    taken.emplace_back(at - QPointF(r, r), QSizeF(2 * r, 2 * r));
}

void draw_note(const PlanPaper& paper, const Overlay::Note& note, Taken& taken) {
    QPainter& painter = paper.painter;
    const QString text = QString::fromStdString(note.text);
    if (text.isEmpty()) return;
    const QColor colour = note.tone == Tone::plain ? paper.palette.label : paper.colour(note.tone);
    constexpr double margin = 7;
    const double widest = std::min(320.0, paper.inside.width() * 0.6);
    const QRectF written = painter.boundingRect(QRectF(0, 0, widest, 1000), Qt::TextWordWrap, text);
    const QSizeF size(written.width() + 2 * margin + 2, written.height() + 2 * margin - 4);
    const QPointF at = paper.at(note.at);
    std::vector<QPointF> middles;
    for (const double away : {18.0, 46.0})
        for (const QPointF& side : {QPointF(1, -1), QPointF(1, 1), QPointF(-1, -1), QPointF(-1, 1)})
            middles.push_back(at +
                              QPointF(side.x() * (size.width() / 2 + away), side.y() * (size.height() / 2 + away)));
    const QRectF box = place_text(paper, size, middles, taken);
    if (paper.inside.contains(at)) {
        const QPointF foot(std::clamp(at.x(), box.left() + 6, box.right() - 6),
                           std::clamp(at.y(), box.top() + 6, box.bottom() - 6));
        QPainterPath leader;
        leader.moveTo(at);
        leader.lineTo(foot);
        if (!box.contains(at)) stroke(paper, leader, colour, 1.4);
        painter.setPen(Qt::NoPen);
        painter.setBrush(colour);
        painter.drawEllipse(at, 3, 3);
    }
    painter.setPen(pen_of(colour, 1.6, note.tone == Tone::bad ? Qt::DashLine : Qt::SolidLine));
    painter.setBrush(paper.palette.ground);
    painter.drawRoundedRect(box, 5, 5);
    painter.setPen(paper.palette.label);
    painter.drawText(box.adjusted(margin, margin - 3, -margin + 2, 0), Qt::TextWordWrap, text);
}

void draw_hole(const PlanPaper& paper, const Scene& scene, const shop::Hole& hole) {
    const shop::Table& table = scene.table;
    const QPointF at = paper.at(Vec3(hole.col * table.pitch_x_mm, hole.row * table.pitch_y_mm, 0));
    if (!paper.camera.level()) return;
    const double r = std::max(5.0, table.hole_mm / 2 * paper.camera.pixels_per_mm + 3);
    QPainterPath ring;
    ring.addEllipse(at, r, r);
    stroke(paper, ring, paper.palette.selected, 2.2);
}

}  // namespace

QPointF PlanPaper::at(const Vec3& p_T) const {
    return camera.to_widget((camera.R_VT() * p_T).head<2>());
}

QTransform PlanPaper::of(const space::Pose& X_TS) const {
    const QPointF origin = at(X_TS.position());
    return QTransform(camera.pixels_per_mm, 0, 0, camera.pixels_per_mm, origin.x(), origin.y());
}

QColor PlanPaper::colour(Tone tone) const {
    switch (tone) {
        case Tone::plain:
            return palette.plain;
        case Tone::good:
            return palette.good;
        case Tone::warn:
            return palette.warn;
        case Tone::bad:
            return palette.bad;
    }
    return palette.plain;
}

QSizeF text_size(const QPainter& painter, const QString& text) {
    const QFontMetricsF metrics(painter.font());
    return {metrics.horizontalAdvance(text), metrics.height()};
}

void write(QPainter& painter, const QPointF& middle, const QString& text, const QColor& ink, const QColor& halo) {
    QRectF box(QPointF(), text_size(painter, text) + QSizeF(4, 0));
    // On whole pixels text is sharp.
    box.moveTopLeft(QPointF(std::round(middle.x() - box.width() / 2), std::round(middle.y() - box.height() / 2)));
    painter.setPen(halo);
    for (const QPointF& by : {QPointF(-1.5, 0), QPointF(1.5, 0), QPointF(0, -1.5), QPointF(0, 1.5), QPointF(-1, -1),
                              QPointF(1, -1), QPointF(-1, 1), QPointF(1, 1)})
        painter.drawText(box.translated(by), Qt::AlignCenter | Qt::TextSingleLine, text);
    painter.setPen(ink);
    painter.drawText(box, Qt::AlignCenter | Qt::TextSingleLine, text);
}

void draw_overlay(const PlanPaper& paper, const Scene& scene, const Overlay& overlay) {
    QPainter& painter = paper.painter;
    painter.setRenderHint(QPainter::Antialiasing);
    const auto item_of = [&](const ItemId& id) -> const Item* {
        const auto found = scene.items.find(id);
        return found == scene.items.end() || overlay.hidden.contains(id) ? nullptr : &found->second;
    };
    for (const ItemId& id : overlay.selected)
        if (const Item* item = item_of(id)) draw_item_outline(paper, *item, paper.palette.selected, 3.2, 45);
    if (overlay.hovered && !overlay.selected.contains(*overlay.hovered))
        if (const Item* item = item_of(*overlay.hovered)) draw_item_outline(paper, *item, paper.palette.hovered, 2, 25);
    if (overlay.face) draw_face(paper, scene, *overlay.face);
    for (const Overlay::Ghost& ghost : overlay.ghosts) draw_ghost(paper, ghost);
    for (const auto& line : overlay.lines) {
        QPolygonF polyline;
        for (const Vec3& p : line) polyline.append(paper.at(p));
        QPainterPath path;
        path.addPolygon(polyline);
        // A line along the eye is a dot.
        if (path.boundingRect().width() < 2 && path.boundingRect().height() < 2 && !polyline.isEmpty())
            path.addEllipse(polyline.front(), 3, 3);
        stroke(paper, path, paper.palette.selected, 3.5);
    }
    if (overlay.hole) draw_hole(paper, scene, *overlay.hole);
    Taken taken{paper.compass};
    const auto keep_clear = [&](const Vec3& p_T, double r) {
        taken.emplace_back(paper.at(p_T) - QPointF(r, r), QSizeF(2 * r, 2 * r));
    };
    for (const Overlay::Touch& touch : overlay.touches) {
        draw_touch(paper, touch);
        keep_clear(touch.at, 6);
    }
    for (const Overlay::Motion& motion : overlay.motions) {
        draw_motion(paper, motion);
        keep_clear(motion.at, 36);
    }
    for (const Overlay::Spot& spot : overlay.spots) draw_spot(paper, spot, taken);
    for (const Overlay::Measure& measure : overlay.measures) draw_measure(paper, measure, taken);
    for (const Overlay::Note& note : overlay.notes) draw_note(paper, note, taken);
}

}  // namespace setwright::viewer
