#pragma once

#include <QPointF>
#include <QSizeF>

#include "viewer/view.h"

namespace setwright::viewer {

/// Looks square on at the table. View plane: x right, y up on the screen, z towards the eye; mm, T's origin at (0, 0).
struct PlanCamera {
    Direction from = Direction::above;
    /// Shown in the middle of the widget.
    space::Vec2 centre = space::Vec2::Zero();
    double pixels_per_mm = 0.5;
    QSizeF size{320, 240};

    /// Rows: right, up and towards the eye, in T.
    space::Mat3 R_VT() const;
    QPointF to_widget(const space::Vec2& p) const {
        return {size.width() / 2 + (p.x() - centre.x()) * pixels_per_mm,
                size.height() / 2 - (p.y() - centre.y()) * pixels_per_mm};
    }
    space::Vec2 to_plane(const QPointF& at) const {
        return {centre.x() + (at.x() - size.width() / 2) / pixels_per_mm,
                centre.y() - (at.y() - size.height() / 2) / pixels_per_mm};
    }
    bool level() const { return from == Direction::above || from == Direction::below; }
    friend bool operator==(const PlanCamera&, const PlanCamera&) = default;
};

}  // namespace setwright::viewer
