#include "viewer/solid_view_labels.h"

#include <QFontMetricsF>
#include <QPainter>
#include <QPainterPath>
#include <algorithm>
#include <cmath>

namespace setwright::viewer {

namespace {

using Kind = SolidLabel::Kind;

constexpr double ring_px = 22;
constexpr double sheet_px = 1024;

bool bold(Kind kind) {
    return kind == Kind::spot || kind == Kind::number || kind == Kind::measure;
}

QFont font_for(Kind kind, const QFont& font) {
    QFont own = font;
    own.setBold(bold(kind));
    return own;
}

/// Good is ticked, a warning has a triangle, bad a cross: colour is never the only sign.
bool has_sign(const SolidLabel& label) {
    return label.tone != Tone::plain && (label.kind == Kind::note || label.kind == Kind::measure);
}

QSizeF text_size(const SolidLabel& label, const QFont& font) {
    return QFontMetricsF(font_for(label.kind, font))
        .boundingRect(QRectF(0, 0, 1e4, 1e4), Qt::AlignLeft, label.text)
        .size();
}

QSizeF size_of(const SolidLabel& label, const QFont& font) {
    const QSizeF text = text_size(label, font);
    const double sign = has_sign(label) ? text_size({Kind::name, {}, "X", {}, {}}, font).height() + 2 : 0;
    switch (label.kind) {
        case Kind::spot:
            return {std::max(ring_px, text.width() + 12) + 2, ring_px + 2};
        case Kind::note:
            return {text.width() + sign + 14, text.height() + 10};
        case Kind::measure:
        case Kind::number:
            return {std::max(text.width() + sign + 10, text.height() + 4), text.height() + 4};
        case Kind::name:
        case Kind::edge:
            return {text.width() + 6, text.height() + 4};
    }
    return text;
}

void draw_sign(QPainter& painter, const QRectF& in, Tone tone, const QColor& colour) {
    const QRectF box = in.adjusted(2, 2, -2, -2);
    painter.setPen(QPen(colour, 2, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
    painter.setBrush(Qt::NoBrush);
    if (tone == Tone::good) {
        painter.drawPolyline(QPolygonF({{box.left(), box.center().y()},
                                        {box.left() + box.width() * 0.38, box.bottom() - 1},
                                        {box.right(), box.top() + 1}}));
    } else if (tone == Tone::warn) {
        painter.drawPolygon(QPolygonF({{box.center().x(), box.top()}, box.bottomRight(), box.bottomLeft()}));
        painter.drawLine(QPointF(box.center().x(), box.top() + box.height() * 0.45),
                         QPointF(box.center().x(), box.top() + box.height() * 0.7));
    } else {
        painter.drawLine(box.topLeft(), box.bottomRight());
        painter.drawLine(box.topRight(), box.bottomLeft());
    }
}

void draw_label(QPainter& painter, const SolidLabel& label, const QRectF& in, const Palette& palette,
                const QFont& font) {
    const QColor tone = colour_of(palette, label.tone);
    QColor paper = palette.ground;
    painter.setFont(font_for(label.kind, font));
    QRectF text_in = in;
    if (label.kind == Kind::spot) {
        const QRectF ring = in.adjusted(2, 2, -2, -2);
        paper.setAlpha(225);
        painter.setPen(QPen(tone, 2, label.tone == Tone::warn ? Qt::DashLine : Qt::SolidLine));
        painter.setBrush(paper);
        painter.drawRoundedRect(ring, ring.height() / 2, ring.height() / 2);
        if (label.tone == Tone::bad) {
            // Struck through behind its number, which stays readable.
            painter.drawLine(ring.topRight() + QPointF(-3, 3), ring.bottomLeft() - QPointF(-3, 3));
            const QFontMetricsF metrics(painter.font());
            QPainterPath digits;
            digits.addText(ring.center().x() - metrics.horizontalAdvance(label.text) / 2,
                           ring.center().y() + (metrics.ascent() - metrics.descent()) / 2, painter.font(), label.text);
            painter.strokePath(digits, QPen(paper, 4, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
        } else if (label.text.isEmpty()) {
            painter.setBrush(tone);
            painter.drawEllipse(ring.center(), 2, 2);
        }
    } else if (label.kind == Kind::name || label.kind == Kind::edge) {
        // A halo keeps the letters apart from lines that run through them.
        const QFontMetricsF metrics(painter.font());
        QPainterPath letters;
        letters.addText(in.left() + 3, in.top() + 2 + metrics.ascent(), painter.font(), label.text);
        paper.setAlpha(230);
        painter.strokePath(letters, QPen(paper, 4, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
    } else {
        paper.setAlpha(238);
        painter.setBrush(paper);
        painter.setPen(QPen(label.kind == Kind::number ? palette.placement_edge : tone,
                            label.kind == Kind::note && label.tone != Tone::plain ? 2 : 1));
        painter.drawRoundedRect(in.adjusted(1, 1, -1, -1), 4, 4);
    }
    if (has_sign(label)) {
        const double side = text_size({Kind::name, {}, "X", {}, {}}, font).height();
        const double pad = label.kind == Kind::note ? 7 : 5;
        draw_sign(painter, QRectF(in.left() + pad, in.top() + (label.kind == Kind::note ? 5 : 2), side - 2, side - 2),
                  label.tone, tone);
        text_in.setLeft(in.left() + pad + side + 2);
        text_in.setRight(in.right() - pad);
    } else if (label.kind == Kind::note) {
        text_in.adjust(7, 0, -7, 0);
    }
    painter.setPen(palette.label);
    painter.drawText(text_in, label.kind == Kind::note ? Qt::AlignLeft | Qt::AlignVCenter : Qt::AlignCenter,
                     label.text);
}

/// Clear of what is taken, whole in the picture.
bool free_at(const QRectF& at, const QSizeF& picture, const std::vector<QRectF>& taken) {
    if (!QRectF(QPointF(0, 0), picture).contains(at)) return false;
    return std::none_of(taken.begin(), taken.end(), [&](const QRectF& other) { return other.intersects(at); });
}

QRectF centred(const QPointF& at, const QSizeF& size) {
    return {at.x() - size.width() / 2, at.y() - size.height() / 2, size.width(), size.height()};
}

/// Middles that the label may take, best first.
std::vector<QPointF> choices(const SolidLabel& label, const QPointF& at, const QSizeF& size,
                             const SolidCamera& camera) {
    if (label.kind == Kind::note) {
        std::vector<QPointF> middles;
        for (const double away : {16.0, 40.0, 70.0})
            for (const QPointF& side : {QPointF(1, -1), QPointF(-1, -1), QPointF(1, 1), QPointF(-1, 1)})
                middles.push_back(at +
                                  QPointF(side.x() * (size.width() / 2 + away), side.y() * (size.height() / 2 + away)));
        return middles;
    }
    if (label.kind == Kind::measure) {
        const QPointF along = camera.to_widget(label.at_T + label.along_T) - at;
        const double length = std::hypot(along.x(), along.y());
        const QPointF side = length > 1 ? QPointF(along.y(), -along.x()) / length : QPointF(0, -1);
        // As far off the line as the box is big towards it.
        const double away = (std::abs(side.x()) * size.width() + std::abs(side.y()) * size.height()) / 2 + 5;
        std::vector<QPointF> middles;
        for (const double more : {0.0, 1.2, 2.6, 4.0})
            for (const double way : {1.0, -1.0}) middles.push_back(at + side * way * (away + more * size.height()));
        return middles;
    }
    return {at};
}

}  // namespace

QColor colour_of(const Palette& palette, Tone tone) {
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

std::vector<SolidLabel> edge_labels(const shop::Table& table) {
    std::vector<SolidLabel> labels;
    const auto add = [&](shop::Hole hole, bool letters) {
        const std::string both = shop::hole_label(hole);
        const std::size_t split = both.find_first_of("0123456789");
        labels.push_back({SolidLabel::Kind::edge, space::Vec3::Zero(),
                          QString::fromStdString(letters ? both.substr(0, split) : both.substr(split)), Tone::plain,
                          space::Vec3::Zero()});
    };
    for (int col = 0; col < table.cols; ++col) add({col, 0}, false);
    for (int row = 0; row < table.rows; ++row) add({0, row}, true);
    return labels;
}

void stand_edge_labels(std::vector<SolidLabel>& labels, const shop::Table& table, const SolidCamera& camera) {
    const double low = -table.thickness_mm;
    const double south = -table.margin_south_mm, west = -table.margin_west_mm;
    const bool from_north = camera.back().y() > 1e-9, from_east = camera.back().x() > 1e-9;
    // Outward in the picture; where the edge is looked at from its side there is no outward, only down.
    const auto beside = [&](const space::Vec3& outward) -> space::Vec3 {
        const space::Vec3 seen = outward - camera.back() * outward.dot(camera.back());
        const space::Vec3 way = seen - camera.up() * (1 - seen.norm());
        return way.normalized() * 13 * camera.mm_per_pixel();
    };
    const space::Vec3 row_of_numbers =
        space::Vec3(0, from_north ? south + table.width_mm : south, low) + beside({0, from_north ? 1.0 : -1.0, 0});
    const space::Vec3 column_of_letters =
        space::Vec3(from_east ? west + table.length_mm : west, 0, low) + beside({from_east ? 1.0 : -1.0, 0, 0});
    const auto every = [&](const space::Vec3& step, double room_px) {
        const QPointF apart = camera.to_widget(step) - camera.to_widget(space::Vec3::Zero());
        const double px = std::hypot(apart.x(), apart.y());
        for (const int n : {1, 2, 5, 10, 20})
            if (px * n >= room_px) return n;
        return 0;
    };
    const int by_col = every(space::Vec3(table.pitch_x_mm, 0, 0), 26),
              by_row = every(space::Vec3(0, table.pitch_y_mm, 0), 20);
    for (int i = 0; i < static_cast<int>(labels.size()); ++i) {
        SolidLabel& label = labels[static_cast<std::size_t>(i)];
        if (i < table.cols) {
            // Where only every fifth number has room it is 5, 10, 15 that a person counts by; the first always stands.
            label.wanted = by_col > 0 && (by_col <= 2 ? i % by_col == 0 : i == 0 || (i + 1) % by_col == 0);
            label.at_T = row_of_numbers + space::Vec3(i * table.pitch_x_mm, 0, 0);
        } else {
            const int row = i - table.cols;
            label.wanted = by_row > 0 && row % by_row == 0;
            label.at_T = column_of_letters + space::Vec3(0, row * table.pitch_y_mm, 0);
        }
    }
}

SolidLabelSheet draw_labels(const std::vector<SolidLabel>& labels, const Palette& palette, const QFont& font,
                            double pixel_ratio) {
    SolidLabelSheet sheet;
    sheet.pixel_ratio = pixel_ratio;
    int x = 0, y = 0, row = 0, widest = 0;
    for (const SolidLabel& label : labels) {
        const QSize size = (size_of(label, font) * pixel_ratio + QSizeF(1, 1)).toSize();
        if (x > 0 && x + size.width() > sheet_px * pixel_ratio) {
            x = 0;
            y += row + 1;
            row = 0;
        }
        sheet.cuts.push_back({QPoint(x, y), size});
        x += size.width() + 1;
        row = std::max(row, size.height());
        widest = std::max(widest, x);
    }
    if (labels.empty()) return sheet;
    QImage image(widest, y + row + 1, QImage::Format_ARGB32_Premultiplied);
    image.fill(Qt::transparent);
    QPainter painter(&image);
    painter.setRenderHints(QPainter::Antialiasing | QPainter::TextAntialiasing);
    for (std::size_t i = 0; i < labels.size(); ++i) {
        painter.save();
        painter.translate(sheet.cuts[i].topLeft());
        painter.scale(pixel_ratio, pixel_ratio);
        draw_label(painter, labels[i], QRectF(QPointF(0, 0), QSizeF(sheet.cuts[i].size()) / pixel_ratio), palette,
                   font);
        painter.restore();
    }
    painter.end();
    // The kernel's blending wants colours that are not multiplied by their opacity.
    sheet.image = image.convertToFormat(QImage::Format_RGBA8888);
    return sheet;
}

std::vector<SolidLabelSpot> place_labels(const std::vector<SolidLabel>& labels, const SolidLabelSheet& sheet,
                                         const SolidCamera& camera, std::vector<QRectF>& taken) {
    std::vector<std::size_t> order(labels.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return labels[a].kind < labels[b].kind; });
    const QRectF picture(QPointF(0, 0), camera.pixels());
    std::vector<SolidLabelSpot> spots;
    for (const std::size_t i : order) {
        const SolidLabel& label = labels[i];
        const QPointF at = camera.to_widget(label.at_T);
        if (!label.wanted || !picture.contains(at)) continue;
        const QSizeF size = QSizeF(sheet.cuts[i].size()) / sheet.pixel_ratio;
        const std::vector<QPointF> middles = choices(label, at, size, camera);
        const bool must = label.kind == Kind::note || label.kind == Kind::spot || label.kind == Kind::measure;
        std::optional<QRectF> chosen;
        for (const QPointF& middle : middles) {
            const QRectF there = centred(middle, size);
            if (!free_at(there, camera.pixels(), taken)) continue;
            chosen = there;
            break;
        }
        if (!chosen && must) {
            chosen = centred(middles.front(), size);
            chosen->moveLeft(std::clamp(chosen->left(), 0.0, std::max(0.0, picture.width() - size.width())));
            chosen->moveTop(std::clamp(chosen->top(), 0.0, std::max(0.0, picture.height() - size.height())));
        }
        if (!chosen) continue;
        taken.push_back(*chosen);
        SolidLabelSpot spot{i, *chosen, {}};
        if (label.kind == Kind::note && !chosen->contains(at))
            spot.leader = QLineF(at, QPointF(std::clamp(at.x(), chosen->left() + 4, chosen->right() - 4),
                                             std::clamp(at.y(), chosen->top() + 2, chosen->bottom() - 2)));
        spots.push_back(spot);
    }
    return spots;
}

}  // namespace setwright::viewer
