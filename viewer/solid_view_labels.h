#pragma once

#include <QFont>
#include <QImage>
#include <QPointF>
#include <QRectF>
#include <optional>
#include <vector>

#include "viewer/solid_view_camera.h"

namespace setwright::viewer {

/// Words over the solid view; always upright, in the font of the window.
struct SolidLabel {
    /// In the order in which they get room.
    enum class Kind { spot, note, measure, number, name, edge } kind = Kind::name;
    space::Vec3 at_T = space::Vec3::Zero();
    QString text;
    Tone tone = Tone::plain;
    /// Measures: the way the measured line goes, so that the text stands beside it.
    space::Vec3 along_T = space::Vec3::Zero();
    /// Drawn ready, but not placed where false.
    bool wanted = true;

    friend bool operator==(const SolidLabel&, const SolidLabel&) = default;
};

/// All numbers of the columns, then all letters of the rows of a table.
std::vector<SolidLabel> edge_labels(const shop::Table& table);
/// Stands them along the two edges that are next to the eye, as many as there is room for.
void stand_edge_labels(std::vector<SolidLabel>& labels, const shop::Table& table, const SolidCamera& camera);

/// All labels drawn side by side on one picture, to be cut out of it: one texture, one draw call.
struct SolidLabelSheet {
    QImage image;
    /// Device pixels on `image`, one per label.
    std::vector<QRect> cuts;
    double pixel_ratio = 1;
};
SolidLabelSheet draw_labels(const std::vector<SolidLabel>& labels, const Palette& palette, const QFont& font,
                            double pixel_ratio);

/// Where a label stands in the picture, and the line from there to what it speaks of.
struct SolidLabelSpot {
    std::size_t label;
    QRectF at;
    std::optional<QLineF> leader;
};
/// Labels that find no room are left out, notes and spots never. `taken` holds what is occupied already and gains what
/// is placed here.
std::vector<SolidLabelSpot> place_labels(const std::vector<SolidLabel>& labels, const SolidLabelSheet& sheet,
                                         const SolidCamera& camera, std::vector<QRectF>& taken);

QColor colour_of(const Palette& palette, Tone tone);

}  // namespace setwright::viewer
