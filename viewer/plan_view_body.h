#pragma once

#include <QPainterPath>
#include <QPolygonF>

#include "viewer/scene.h"

/// A body as the plan sees it. View plane as in PlanCamera, but y down as Qt has it; mm, S's origin at (0, 0).
namespace setwright::viewer {

/// A part of a face that can be painted in one go: all of it lies at about one depth.
struct FlatLayer {
    /// Towards the eye, from S's origin.
    double depth_mm = 0;
    int face = -1;
    /// Areas with the normals they have, in the view frame.
    struct Area {
        QPainterPath path;
        space::Vec3 normal;
    };
    std::vector<Area> areas;
    std::vector<QPolygonF> lines;
};

struct FlatBody {
    /// Farthest first.
    std::vector<FlatLayer> layers;
    /// Around all of it, as one area.
    QPainterPath outline;
    QRectF box;
};

FlatBody flatten(const Shape& shape, const space::Mat3& R_VS);

/// One face alone: an area, or where it is seen edge-on the line it is seen as (two points).
struct FlatFace {
    QPainterPath area;
    QPolygonF line;
};
FlatFace flatten_face(const Shape& shape, int face, const space::Mat3& R_VS);

}  // namespace setwright::viewer
