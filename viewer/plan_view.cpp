#include "viewer/plan_view.h"

#include <QPaintEvent>
#include <algorithm>
#include <cmath>

#include "viewer/plan_view_marks.h"

namespace setwright::viewer {

namespace {

using space::Aabb;
using space::Mat3;
using space::Vec2;
using space::Vec3;

constexpr double smallest_scale = 0.01;
constexpr double largest_scale = 50;
/// Holes nearer to each other than this are drawn only here and there.
constexpr double least_hole_pixels = 5;
/// Laid-out bodies kept; more are made anew.
constexpr std::size_t kept_bodies = 1000;

/// Where the light comes from, seen by the eye: over the left shoulder, so that what faces the eye is in full colour.
QColor lit(const QColor& colour, const Vec3& normal) {
    static const Vec3 light = Vec3(-0.35, 0.45, 0.82).normalized();
    const double share = std::clamp(0.62 + 0.38 * normal.dot(light) / light.z(), 0.55, 1.1);
    const auto part = [&](int c) { return static_cast<int>(std::clamp(std::lround(c * share), 0L, 255L)); };
    return {part(colour.red()), part(colour.green()), part(colour.blue())};
}

QPen thin(const QColor& colour, double width, Qt::PenStyle style = Qt::SolidLine) {
    QPen pen(colour, width, style, Qt::RoundCap, Qt::RoundJoin);
    pen.setCosmetic(true);
    return pen;
}

Aabb plate_of(const shop::Table& table) {
    Aabb box;
    box.add(Vec3(-table.margin_west_mm, -table.margin_south_mm, -table.thickness_mm));
    box.add(Vec3(table.length_mm - table.margin_west_mm, table.width_mm - table.margin_south_mm, 0));
    return box;
}

/// A body in its own turn: bodies that were only moved share it.
struct BodyKey {
    const Shape* shape;
    std::array<double, 9> turn;
    friend auto operator<=>(const BodyKey&, const BodyKey&) = default;
};

struct Laid {
    std::shared_ptr<const Shape> shape;
    FlatBody body;
};

bool draws_alike(const Item& a, const Item& b) {
    return a.shape == b.shape && a.X_TS == b.X_TS && a.label == b.label && a.set_apart == b.set_apart;
}

}  // namespace

Mat3 PlanCamera::R_VT() const {
    Mat3 R;
    switch (from) {
        case Direction::above:
        case Direction::corner:
            R = Mat3::Identity();
            break;
        case Direction::below:
            R << 1, 0, 0, 0, -1, 0, 0, 0, -1;
            break;
        case Direction::south:
            R << 1, 0, 0, 0, 0, 1, 0, -1, 0;
            break;
        case Direction::east:
            R << 0, 1, 0, 0, 0, 1, 1, 0, 0;
            break;
        case Direction::north:
            R << -1, 0, 0, 0, 0, 1, 0, 1, 0;
            break;
        case Direction::west:
            R << 0, -1, 0, 0, 0, 1, -1, 0, 0;
            break;
    }
    return R;
}

struct PlanView::Impl {
    PlanView& view;
    Scene scene;
    Overlay overlay;
    Palette palette = Palette::light();
    PlanCamera camera;
    /// The whole is to be seen until the user looks closer; then a resize keeps what is in the middle.
    bool fitted = true;
    std::map<BodyKey, Laid> laid;

    /// The picture under the overlay, and what it shows.
    QPixmap base;
    bool base_is_stale = true;
    PlanCamera base_camera;
    std::set<ItemId> base_hidden;

    explicit Impl(PlanView& v) : view(v) {}

    const FlatBody& body(const Item& item) {
        const Mat3 R_VS = camera.R_VT() * item.X_TS.rotation();
        BodyKey key{item.shape.get(), {}};
        std::copy_n(R_VS.data(), 9, key.turn.begin());
        auto& [shape, flat] = laid[key];
        if (!shape) {
            shape = item.shape;
            flat = flatten(*item.shape, R_VS);
        }
        return flat;
    }

    double ruler_width() const { return camera.level() ? QFontMetricsF(view.font()).horizontalAdvance("WW") + 10 : 0; }
    double ruler_height() const { return QFontMetricsF(view.font()).height() + 6; }
    QRectF inside() const {
        return QRectF(ruler_width(), 0, camera.size.width() - ruler_width(), camera.size.height() - ruler_height());
    }

    QRectF compass() const {
        if (!camera.level()) return {};
        const double line = QFontMetricsF(view.font()).height();
        return QRectF(camera.size.width() - 46 - line, 14, 38 + line, 46 + line);
    }

    PlanPaper paper(QPainter& painter) {
        return {painter,  camera,    palette,
                inside(), compass(), [this](const Item& item) -> const FlatBody& { return body(item); }};
    }

    void fit(const Aabb& box_T) {
        const Mat3 R = camera.R_VT();
        Vec2 low = Vec2::Constant(1e30), high = Vec2::Constant(-1e30);
        for (int i = 0; i < 8; ++i) {
            const Vec3 corner(i & 1 ? box_T.max.x() : box_T.min.x(), i & 2 ? box_T.max.y() : box_T.min.y(),
                              i & 4 ? box_T.max.z() : box_T.min.z());
            const Vec2 p = (R * corner).head<2>();
            low = low.cwiseMin(p);
            high = high.cwiseMax(p);
        }
        const QRectF room = inside().adjusted(16, 16, -16, -16);
        const Vec2 size = (high - low).cwiseMax(1.0);
        camera.pixels_per_mm =
            std::clamp(std::min(std::max(room.width(), 50.0) / size.x(), std::max(room.height(), 50.0) / size.y()),
                       smallest_scale, largest_scale);
        const Vec2 middle = (low + high) / 2;
        const QPointF off = room.center() - QPointF(camera.size.width() / 2, camera.size.height() / 2);
        camera.centre = middle - Vec2(off.x(), -off.y()) / camera.pixels_per_mm;
    }

    /// A widget that is not shown yet hears of its new size late.
    void take_size() {
        if (camera.size == QSizeF(view.size())) return;
        camera.size = view.size();
        if (fitted) fit_all();
    }

    void fit_all() {
        const Aabb all = scene.box();
        if (!all.empty() && all.size().norm() > 1) fit(all);
    }

    // ---- the picture under the overlay

    void draw_table(QPainter& painter) {
        const shop::Table& table = scene.table;
        if (table.length_mm <= 0 || table.width_mm <= 0) return;
        const Mat3 R = camera.R_VT();
        const Aabb plate = plate_of(table);
        const QPointF a = camera.to_widget((R * plate.min).head<2>());
        const QPointF b = camera.to_widget((R * plate.max).head<2>());
        const QRectF rect = QRectF(a, b).normalized();
        painter.setPen(thin(palette.table_edge, 1.5));
        painter.setBrush(palette.table);
        painter.drawRect(rect);
        if (!camera.level()) return;

        const double scale = camera.pixels_per_mm;
        const auto step_for = [&](double pitch_mm) {
            const double pixels = pitch_mm * scale;
            return pixels >= least_hole_pixels || pixels <= 0 ? 1
                                                              : static_cast<int>(std::ceil(least_hole_pixels / pixels));
        };
        const int step_x = step_for(table.pitch_x_mm), step_y = step_for(table.pitch_y_mm);
        const double r = std::max(0.6, table.hole_mm / 2 * scale);
        const QRectF seen = QRectF(QPointF(), camera.size).adjusted(-r, -r, r, r);
        // All holes look alike: one is drawn, the others are stamped.
        const double ratio = painter.device()->devicePixelRatioF();
        const double side = std::ceil(2 * r + 3);
        QPixmap stamp((QSizeF(side, side) * ratio).toSize());
        stamp.setDevicePixelRatio(ratio);
        stamp.fill(Qt::transparent);
        {
            QColor rim = palette.table_edge;
            rim.setAlpha(150);
            QPainter onto(&stamp);
            onto.setRenderHint(QPainter::Antialiasing);
            onto.setPen(r > 3.5 ? thin(rim, 1) : QPen(Qt::NoPen));
            onto.setBrush(palette.hole);
            onto.drawEllipse(QPointF(side / 2, side / 2), r, r);
        }
        std::vector<QPointF> blocked;
        for (int row = 0; row < table.rows; row += step_y)
            for (int col = 0; col < table.cols; col += step_x) {
                const Vec3 hole(col * table.pitch_x_mm, row * table.pitch_y_mm, 0);
                const QPointF at = camera.to_widget((R * hole).head<2>());
                if (!seen.contains(at)) continue;
                if (table.is_blocked({col, row}))
                    blocked.push_back(at);
                else
                    painter.drawPixmap(at - QPointF(side / 2, side / 2), stamp);
            }
        painter.setPen(thin(palette.hole_blocked, std::max(1.0, r / 3)));
        for (const QPointF& at : blocked) {
            painter.drawLine(at + QPointF(-r, -r), at + QPointF(r, r));
            painter.drawLine(at + QPointF(-r, r), at + QPointF(r, -r));
        }
    }

    void draw_bodies(QPainter& painter, const std::set<ItemId>& hidden) {
        struct Painted {
            double depth;
            std::size_t item;
            const FlatLayer* layer;
        };
        struct Placed {
            const Item* item;
            bool piece;
            QTransform to_widget;
        };
        const Vec3 towards = camera.R_VT().row(2).transpose();
        const QRectF seen(QPointF(), camera.size);
        const PlanPaper on = paper(painter);
        std::vector<Placed> placed;
        std::vector<Painted> all;
        for (const auto& [id, item] : scene.items) {
            if (hidden.contains(id)) continue;
            const FlatBody& flat = body(item);
            const QTransform to_widget = on.of(item.X_TS);
            if (!to_widget.mapRect(flat.box).intersects(seen)) continue;
            const double depth = towards.dot(item.X_TS.position());
            for (const FlatLayer& layer : flat.layers) all.push_back({depth + layer.depth_mm, placed.size(), &layer});
            placed.push_back({&item, std::holds_alternative<PieceId>(id), to_widget});
        }
        std::stable_sort(all.begin(), all.end(), [](const Painted& a, const Painted& b) { return a.depth < b.depth; });
        // Small bodies would be nothing but lines.
        const bool small = camera.pixels_per_mm < 0.6;
        const double width = small ? 0.8 : 1.1;
        QColor piece_line = palette.piece_edge, block_line = palette.placement_edge;
        if (small) block_line.setAlpha(190);
        for (const Painted& one : all) {
            const auto& [item, piece, to_widget] = placed[one.item];
            const QColor fill = piece ? (item->set_apart ? palette.piece_by_hand : palette.piece)
                                      : (item->set_apart ? palette.locked : palette.placement);
            painter.setTransform(to_widget);
            painter.setPen(Qt::NoPen);
            // Without smooth borders no ground shines through between the parts of a round face; lines hide the steps.
            painter.setRenderHint(QPainter::Antialiasing, one.layer->areas.size() == 1);
            for (const FlatLayer::Area& area : one.layer->areas) {
                painter.setBrush(lit(fill, area.normal));
                painter.drawPath(area.path);
            }
            painter.setRenderHint(QPainter::Antialiasing);
            // Held by hand: dashed, as its place is not set by anything.
            painter.setPen(
                thin(piece ? piece_line : block_line, width, piece && item->set_apart ? Qt::DashLine : Qt::SolidLine));
            painter.setBrush(Qt::NoBrush);
            for (const QPolygonF& polyline : one.layer->lines) painter.drawPolyline(polyline);
        }
        // Rests under a tube are to be seen as well.
        if (camera.from == Direction::above) {
            QPainterPath covered;
            covered.setFillRule(Qt::WindingFill);
            for (const Placed& one : placed)
                if (one.piece) covered.addPath(one.to_widget.map(body(*one.item).outline));
            painter.resetTransform();
            painter.setClipPath(covered);
            QColor faint = palette.piece_edge;
            faint.setAlpha(170);
            painter.setPen(thin(faint, 1, Qt::DotLine));
            for (const Placed& one : placed)
                if (!one.piece) painter.drawPath(one.to_widget.map(body(*one.item).outline));
            painter.setClipping(false);
        }
        painter.resetTransform();
    }

    void draw_labels(QPainter& painter, const std::set<ItemId>& hidden) {
        const QRectF paper_rect = inside();
        const QFont font = view.font();
        QFont bold = font;
        bold.setBold(true);
        std::vector<QRectF> taken;
        const auto covered = [&](const QRectF& r) {
            double sum = 0;
            for (const QRectF& other : taken) {
                const QRectF both = r.intersected(other);
                if (both.isValid()) sum += both.width() * both.height();
            }
            return sum / std::max(1.0, r.width() * r.height());
        };
        struct Balloon {
            const Item* item;
            QRectF body;
        };
        std::vector<Balloon> blocks, pieces;
        std::vector<QRectF> bodies;
        for (const auto& [id, item] : scene.items) {
            if (hidden.contains(id)) continue;
            const QRectF box = paper(painter).of(item.X_TS).mapRect(body(item).box);
            if (!box.intersects(paper_rect)) continue;
            if (std::holds_alternative<PieceId>(id)) {
                pieces.push_back({&item, box});
            } else {
                blocks.push_back({&item, box});
                bodies.push_back(box);
            }
        }
        painter.setFont(bold);
        const double text_height = QFontMetricsF(bold).height();
        for (const Balloon& block : blocks) {
            const QString text = QString::fromStdString(block.item->label);
            const double r = std::max(text_height / 2 + 1.5, text_size(painter, text).width() / 2 + 4);
            const QRectF visible = block.body.intersected(paper_rect);
            const QPointF middle = visible.center();
            std::vector<QPointF> places{middle};
            for (const double away : {3.0, 3.0 + r, 3.0 + 2.5 * r})
                for (const QPointF& way : {QPointF(1, -1), QPointF(-1, -1), QPointF(1, 1), QPointF(-1, 1),
                                           QPointF(0, -1), QPointF(1, 0), QPointF(0, 1), QPointF(-1, 0)}) {
                    const double slant = way.x() != 0 && way.y() != 0 ? 0.75 : 1;
                    places.push_back(middle + QPointF(way.x() * (visible.width() / 2 + slant * r + away * slant),
                                                      way.y() * (visible.height() / 2 + slant * r + away * slant)));
                }
            QPointF best = middle;
            double least = 1e9;
            for (std::size_t i = 0; i < places.size(); ++i) {
                QRectF ring(0, 0, 2 * r, 2 * r);
                ring.moveCenter(places[i]);
                double cost = 20 * covered(ring) + 0.02 * static_cast<double>(i);
                // On its own block only where there is room beside the number.
                if (i == 0 && std::min(visible.width(), visible.height()) < 2.6 * r) cost += 1.5;
                for (const QRectF& other : bodies) {
                    if (i == 0 && other == block.body) continue;
                    const QRectF both = ring.intersected(other);
                    if (both.isValid()) cost += 2 * both.width() * both.height() / (4 * r * r);
                }
                if (!paper_rect.contains(ring)) cost += 5;
                if (cost >= least) continue;
                least = cost;
                best = places[i];
            }
            if (!block.body.contains(best)) {
                painter.setPen(thin(palette.placement_edge, 1));
                painter.drawLine(best, middle);
                painter.setBrush(palette.placement_edge);
                painter.drawEllipse(middle, 1.8, 1.8);
            }
            painter.setBrush(palette.ground);
            painter.setPen(thin(palette.placement_edge, 1.3));
            // Locked: a square instead of a ring.
            if (block.item->set_apart)
                painter.drawRect(QRectF(best - QPointF(r, r) * 0.92, QSizeF(2 * r, 2 * r) * 0.92));
            else
                painter.drawEllipse(best, r, r);
            write(painter, best, text, palette.label, palette.ground);
            taken.emplace_back(best - QPointF(r, r), QSizeF(2 * r, 2 * r));
        }
        painter.setFont(font);
        for (const Balloon& piece : pieces) {
            const QString text = QString::fromStdString(piece.item->label);
            const QSizeF size = text_size(painter, text) + QSizeF(4, -2);
            const QRectF body_box = piece.body.intersected(paper_rect);
            if (std::max(body_box.width(), body_box.height()) < 20 || text.isEmpty()) continue;
            // Nearest to the middle of what is seen of the piece; beside it where it is thinner than its name is high.
            const bool lying = body_box.width() >= body_box.height();
            const bool beside = (lying ? body_box.height() : body_box.width()) < size.height() * 0.9;
            const QPointF off(lying ? 0 : body_box.width() / 2 + size.width() / 2,
                              lying ? body_box.height() / 2 + size.height() / 2 : 0);
            const QPainterPath outline = paper(painter).of(piece.item->X_TS).map(body(*piece.item).outline);
            QRectF best;
            double least = 0.5;
            for (int i = -4; i <= 4; ++i)
                for (int j = -4; j <= 4; ++j) {
                    if (beside && (lying ? std::abs(j) : std::abs(i)) != 1) continue;
                    QPointF at = body_box.center() + QPointF(i * body_box.width(), j * body_box.height()) / 10;
                    if (beside && lying) at.setY(body_box.center().y() + j * off.y());
                    if (beside && !lying) at.setX(body_box.center().x() + i * off.x());
                    if (!beside && !outline.contains(at)) continue;
                    QRectF r(QPointF(), size);
                    r.moveCenter(at);
                    double cost = 4 * covered(r) + 0.01 * std::hypot(i, j) + (paper_rect.contains(r) ? 0 : 1);
                    for (const QRectF& block : bodies) cost += block.intersects(r) ? 0.1 : 0;
                    if (cost >= least) continue;
                    least = cost;
                    best = r;
                }
            // A name that would lie over others is left out: the pointer and the list tell it.
            if (best.isNull()) continue;
            write(painter, best.center(), text, palette.label, palette.ground);
            taken.push_back(best);
        }
    }

    /// Every how manieth label there is room for.
    static int label_step(double pixels, double room) {
        for (const int step : {1, 2, 5, 10, 20, 50})
            if (pixels * step >= room) return step;
        return 100;
    }

    void draw_rulers(QPainter& painter) {
        const shop::Table& table = scene.table;
        const double width = camera.size.width(), height = camera.size.height();
        const double left = ruler_width(), band = ruler_height();
        painter.setPen(Qt::NoPen);
        painter.setBrush(palette.ground);
        painter.drawRect(QRectF(0, height - band, width, band));
        painter.drawRect(QRectF(0, 0, left, height));
        painter.setPen(thin(palette.table_edge, 1));
        painter.drawLine(QPointF(left, height - band), QPointF(width, height - band));
        if (left > 0) painter.drawLine(QPointF(left, 0), QPointF(left, height - band));
        if (table.cols <= 0 || table.rows <= 0) return;

        const Mat3 R = camera.R_VT();
        const QFontMetricsF metrics(view.font());
        const bool numbers = std::abs(R(0, 0)) > 0.5;
        const auto number = [](int i) { return QString::number(i + 1); };
        const auto letter = [](int i) {
            const QString label = QString::fromStdString(shop::hole_label({0, i}));
            return label.left(label.size() - 1);
        };
        const auto label = [&](const QPointF& at, const QString& text) {
            painter.setPen(palette.label);
            painter.drawText(QRectF(at - QPointF(30, 12), QSizeF(60, 24)), Qt::AlignCenter, text);
        };
        const double pitch = numbers ? table.pitch_x_mm : table.pitch_y_mm;
        const int count = numbers ? table.cols : table.rows;
        const int step = label_step(pitch * camera.pixels_per_mm, metrics.horizontalAdvance("88") + 7);
        // The ends belong to the words for the directions in a view from the side.
        const double corner = camera.level() ? 4 : band + 4;
        for (int i = 0; i < count; ++i) {
            const double x =
                camera.to_widget((R * (numbers ? Vec3(i * pitch, 0, 0) : Vec3(0, i * pitch, 0))).head<2>()).x();
            if (x < left + corner || x > width - corner) continue;
            // As on the table, every fifth is counted: 5, 10, 15.
            const bool named = step == 1 || (numbers ? (i + 1) % step == 0 : i % step == 0);
            painter.setPen(thin(palette.table_edge, 1));
            if (pitch * camera.pixels_per_mm >= 4 || named)
                painter.drawLine(QPointF(x, height - band), QPointF(x, height - band + (named ? 4 : 2)));
            if (named) label(QPointF(x, height - band / 2 + 1), numbers ? number(i) : letter(i));
        }
        if (camera.level()) {
            const int row_step = label_step(table.pitch_y_mm * camera.pixels_per_mm, metrics.height() - 1);
            for (int i = 0; i < table.rows; ++i) {
                const double y = camera.to_widget((R * Vec3(0, i * table.pitch_y_mm, 0)).head<2>()).y();
                if (y < 6 || y > height - band - 6) continue;
                const bool named = i % row_step == 0;
                painter.setPen(thin(palette.table_edge, 1));
                if (table.pitch_y_mm * camera.pixels_per_mm >= 4 || named)
                    painter.drawLine(QPointF(left, y), QPointF(left - (named ? 4 : 2), y));
                if (named) label(QPointF(left / 2 - 1, y), letter(i));
            }
        }
        draw_compass(painter);
    }

    void draw_compass(QPainter& painter) {
        const Mat3 R = camera.R_VT();
        const auto direction = [&](const Vec3& way_V) -> QString {
            const Vec3 way = R.transpose() * way_V;
            if (std::abs(way.x()) > 0.5) return way.x() > 0 ? "E" : "W";
            return way.y() > 0 ? "N" : "S";
        };
        QFont bold = view.font();
        bold.setBold(true);
        painter.setFont(bold);
        if (!camera.level()) {
            const double band = ruler_height(), y = camera.size.height() - band / 2;
            for (const double side : {-1.0, 1.0}) {
                const QPointF at(side < 0 ? band / 2 + 3 : camera.size.width() - band / 2 - 3, y);
                painter.setPen(Qt::NoPen);
                painter.setBrush(palette.label);
                painter.drawEllipse(at, band / 2 - 2, band / 2 - 2);
                painter.setPen(palette.ground);
                painter.drawText(QRectF(at - QPointF(20, 12), QSizeF(40, 24)), Qt::AlignCenter,
                                 direction(Vec3(side, 0, 0)));
            }
            painter.setFont(view.font());
            return;
        }
        // In the right upper corner: where up and right on the screen are on the floor.
        const QRectF box = compass();
        const double line = QFontMetricsF(view.font()).height();
        const QPointF foot = box.bottomLeft() + QPointF(12, -12);
        QColor back = palette.ground;
        back.setAlpha(220);
        painter.setPen(Qt::NoPen);
        painter.setBrush(back);
        painter.drawRoundedRect(box, 6, 6);
        painter.setPen(QPen(palette.label, 1.6, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
        painter.setBrush(Qt::NoBrush);
        QPainterPath arrows;
        arrows.moveTo(foot + QPointF(0, -18));
        arrows.lineTo(foot);
        arrows.lineTo(foot + QPointF(18, 0));
        arrows.moveTo(foot + QPointF(-4, -12));
        arrows.lineTo(foot + QPointF(0, -18));
        arrows.lineTo(foot + QPointF(4, -12));
        arrows.moveTo(foot + QPointF(12, -4));
        arrows.lineTo(foot + QPointF(18, 0));
        arrows.lineTo(foot + QPointF(12, 4));
        painter.drawPath(arrows);
        painter.drawText(QRectF(foot + QPointF(-20, -21 - line), QSizeF(40, line)), Qt::AlignCenter,
                         direction(Vec3::UnitY()));
        painter.drawText(QRectF(foot + QPointF(20, -line / 2), QSizeF(line, line)), Qt::AlignCenter,
                         direction(Vec3::UnitX()));
        painter.setFont(view.font());
    }

    void draw_base(QPainter& painter) {
        painter.setRenderHint(QPainter::Antialiasing);
        painter.setFont(view.font());
        painter.fillRect(QRectF(QPointF(), camera.size), palette.ground);
        if (laid.size() > kept_bodies) laid.clear();
        // Seen from below the plate hides what stands on it.
        if (camera.from == Direction::below) {
            draw_bodies(painter, overlay.hidden);
            draw_table(painter);
        } else {
            draw_table(painter);
            draw_bodies(painter, overlay.hidden);
            draw_labels(painter, overlay.hidden);
        }
        draw_rulers(painter);
    }

    void draw(QPainter& painter) {
        const double ratio = painter.device()->devicePixelRatioF();
        const QSize pixels = (camera.size * ratio).toSize();
        if (base_is_stale || base.size() != pixels || base_camera != camera || base_hidden != overlay.hidden) {
            base = QPixmap(pixels);
            base.setDevicePixelRatio(ratio);
            QPainter onto(&base);
            draw_base(onto);
            base_is_stale = false;
            base_camera = camera;
            base_hidden = overlay.hidden;
        }
        painter.drawPixmap(QPointF(), base);
        painter.setFont(view.font());
        draw_overlay(paper(painter), scene, overlay);
        draw_hole_on_rulers(painter);
    }

    /// The hole under the pointer, in the rulers: its letter and its number.
    void draw_hole_on_rulers(QPainter& painter) {
        if (!overlay.hole || !camera.level()) return;
        const shop::Table& table = scene.table;
        const QPointF at = camera.to_widget(
            (camera.R_VT() * Vec3(overlay.hole->col * table.pitch_x_mm, overlay.hole->row * table.pitch_y_mm, 0))
                .head<2>());
        const QString label = QString::fromStdString(shop::hole_label(*overlay.hole));
        const QString number = QString::number(overlay.hole->col + 1);
        const double band = ruler_height(), left = ruler_width();
        QFont bold = view.font();
        bold.setBold(true);
        painter.setFont(bold);
        const auto tag = [&](const QPointF& middle, const QString& text) {
            QRectF r(QPointF(), QSizeF(text_size(painter, text).width() + 8, band - 3));
            r.moveCenter(middle);
            painter.setPen(Qt::NoPen);
            painter.setBrush(palette.selected);
            painter.drawRoundedRect(r, 3, 3);
            painter.setPen(palette.ground);
            painter.drawText(r, Qt::AlignCenter, text);
        };
        if (at.x() > left && at.x() < camera.size.width()) tag({at.x(), camera.size.height() - band / 2}, number);
        if (at.y() > 0 && at.y() < camera.size.height() - band)
            tag({left / 2, at.y()}, label.left(label.size() - number.size()));
        painter.setFont(view.font());
    }
};

PlanView::PlanView(QWidget* parent) : View(parent), impl_(std::make_unique<Impl>(*this)) {
    setAttribute(Qt::WA_OpaquePaintEvent);
    impl_->camera.size = size();
}

PlanView::~PlanView() = default;

void PlanView::show_scene(const Scene& scene) {
    Impl& d = *impl_;
    const bool alike =
        d.scene.stage == scene.stage && d.scene.table == scene.table &&
        std::equal(d.scene.items.begin(), d.scene.items.end(), scene.items.begin(), scene.items.end(),
                   [](const auto& a, const auto& b) { return a.first == b.first && draws_alike(a.second, b.second); });
    if (alike) return;
    const bool first = d.scene.table.cols == 0;
    d.scene = scene;
    d.base_is_stale = true;
    if (first && d.fitted) d.fit_all();
    update();
}

void PlanView::show_overlay(const Overlay& overlay) {
    impl_->overlay = overlay;
    update();
}

void PlanView::set_palette(const Palette& palette) {
    impl_->palette = palette;
    impl_->base_is_stale = true;
    update();
}

void PlanView::look(Direction from) {
    // From the corner there is nothing square on to see: from above is the nearest.
    impl_->camera.from = from == Direction::corner ? Direction::above : from;
    fit();
}

Direction PlanView::looking() const {
    return impl_->camera.from;
}

void PlanView::fit(const Aabb& box_T) {
    impl_->take_size();
    impl_->fitted = box_T.empty();
    if (box_T.empty())
        impl_->fit_all();
    else
        impl_->fit(box_T);
    update();
    Q_EMIT camera_moved();
}

void PlanView::zoom(double factor, const QPointF& about) {
    impl_->take_size();
    PlanCamera& camera = impl_->camera;
    const Vec2 before = camera.to_plane(about);
    camera.pixels_per_mm = std::clamp(camera.pixels_per_mm * factor, smallest_scale, largest_scale);
    camera.centre += before - camera.to_plane(about);
    impl_->fitted = false;
    update();
}

Ray PlanView::ray(const QPointF& at) const {
    impl_->take_size();
    const PlanCamera& camera = impl_->camera;
    const Mat3 R_TV = camera.R_VT().transpose();
    const Vec2 p = camera.to_plane(at);
    // Before everything there is, seen from the eye.
    double before = 0;
    const Aabb all = impl_->scene.box();
    if (!all.empty()) before = all.size().norm() + all.centre().norm();
    const Vec3 towards = R_TV.col(2);
    return {R_TV * Vec3(p.x(), p.y(), before), -towards};
}

QPointF PlanView::to_widget(const Vec3& point_T) const {
    impl_->take_size();
    return impl_->camera.to_widget((impl_->camera.R_VT() * point_T).head<2>());
}

double PlanView::mm_per_pixel() const {
    impl_->take_size();
    return 1 / impl_->camera.pixels_per_mm;
}

QImage PlanView::picture() const {
    impl_->take_size();
    const double ratio = devicePixelRatioF();
    QImage image((QSizeF(size()) * ratio).toSize(), QImage::Format_RGB32);
    image.setDevicePixelRatio(ratio);
    QPainter painter(&image);
    impl_->draw(painter);
    return image;
}

void PlanView::pan(const QPointF& by) {
    PlanCamera& camera = impl_->camera;
    camera.centre -= Vec2(by.x(), -by.y()) / camera.pixels_per_mm;
    impl_->fitted = false;
    update();
}

void PlanView::turn(const QPointF& by) {
    // A plan does not turn; the hand that drags expects it to move.
    pan(by);
}

void PlanView::paintEvent(QPaintEvent*) {
    QPainter painter(this);
    impl_->draw(painter);
}

void PlanView::resizeEvent(QResizeEvent* event) {
    View::resizeEvent(event);
    impl_->take_size();
}

void PlanView::changeEvent(QEvent* event) {
    View::changeEvent(event);
    if (event->type() == QEvent::FontChange) impl_->base_is_stale = true;
}

}  // namespace setwright::viewer
