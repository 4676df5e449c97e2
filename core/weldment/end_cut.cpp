#include "core/weldment/end_cut.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/base/limits.h"

namespace setwright::weldment {

using namespace base::limits;
using space::Face;
using space::Solid;
using space::Vec2;
using space::Vec3;

const char* key(EndKind kind) {
    switch (kind) {
        case EndKind::square:
            return "square";
        case EndKind::mitre:
            return "mitre";
        case EndKind::compound:
            return "compound";
        case EndKind::cope:
            return "cope";
        case EndKind::notch:
            return "notch";
        case EndKind::other:
            return "other";
    }
    return "other";
}

namespace {

double degrees(double rad) {
    return base::Angle::rad(rad).deg();
}

/// The end plane as z = at + slope . (x, y).
struct EndPlane {
    double at = 0;
    Vec2 slope = Vec2::Zero();
};

/// The largest value of slope . (x, y) over the section's outline about its centre.
double reach(const Section& section, const Vec2& slope) {
    const double r = section.corner_radius_mm;
    return std::abs(slope.x()) * (section.width_mm / 2 - r) + std::abs(slope.y()) * (section.depth_mm / 2 - r) +
           r * slope.norm();
}

bool spans_section(const Face& face, const Section& section) {
    // A tenth is left for corners that were clipped off; slots and notches are far smaller than the section.
    constexpr double most = 0.9;
    const Vec3 size = face.box.size();
    return size.x() > most * section.width_mm && size.y() > most * section.depth_mm;
}

/// The plane across the whole section that ends the piece, if the piece ends in one.
int end_face(const Solid& solid, const Section& section, bool high) {
    const double sine = std::sin(base::Angle::deg(parallel_deg).rad());
    int found = -1;
    for (std::size_t i = 0; i < solid.faces.size(); ++i) {
        const Face& face = solid.faces[i];
        const double along = face.surface.axis.z() * (high ? 1 : -1);
        if (face.surface.kind != space::SurfaceKind::plane || along < sine || !spans_section(face, section)) continue;
        if (found >= 0) return -1;
        found = static_cast<int>(i);
    }
    if (found < 0) return -1;
    // Nothing of the piece may stand beyond its end.
    const space::Surface& plane = solid.faces[static_cast<std::size_t>(found)].surface;
    for (const Vec3& p : solid.mesh.points) {
        if ((p - plane.point).dot(plane.axis) > exact_face_mm) return -1;
    }
    return found;
}

EndCut cut_of(const Solid& solid, int face, EndPlane& plane) {
    EndCut cut;
    cut.face = face;
    const space::Surface& on = solid.faces[static_cast<std::size_t>(face)].surface;
    plane.slope = -on.axis.head<2>() / on.axis.z();
    plane.at = on.point.z() - plane.slope.dot(on.point.head<2>());
    const Vec2 lean = -on.axis.head<2>();
    const double angle = degrees(std::atan(plane.slope.norm()));
    if (angle < parallel_deg) {
        cut.kind = EndKind::square;
        plane.slope.setZero();
        plane.at = solid.faces[static_cast<std::size_t>(face)].centroid.z();
        return cut;
    }
    double towards = degrees(std::atan2(lean.y(), lean.x()));
    if (towards < 0) towards += 360;
    const double about_y = degrees(std::atan(std::abs(plane.slope.x())));
    const double about_x = degrees(std::atan(std::abs(plane.slope.y())));
    cut.angle_deg = std::max(about_x, about_y);
    cut.kind = EndKind::mitre;
    if (std::min(about_x, about_y) > parallel_deg) {
        cut.kind = EndKind::compound;
        cut.second_angle_deg = std::min(about_x, about_y);
    } else {
        towards = std::round(towards / 90) * 90 + 0.0;
    }
    cut.plane_deg = towards >= 360 ? towards - 360 : towards;
    return cut;
}

PieceShape shape_of(const std::array<EndCut, 2>& cuts) {
    int leaning = 0;
    for (const EndCut& cut : cuts) {
        if (cut.kind == EndKind::mitre || cut.kind == EndKind::compound)
            ++leaning;
        else if (cut.kind != EndKind::square)
            return PieceShape::straight;
    }
    if (leaning == 0) return PieceShape::straight;
    if (leaning == 1) return PieceShape::trapezoid;
    double turn = std::abs(cuts[0].plane_deg - cuts[1].plane_deg);
    turn = std::min(turn, 360 - turn);
    if (turn < parallel_deg) return PieceShape::trapezoid;
    if (turn > 180 - parallel_deg) return PieceShape::parallelogram;
    return PieceShape::twisted;
}

}  // namespace

Ends find_ends(const Solid& solid, const Section& section) {
    Ends ends;
    double low = std::numeric_limits<double>::infinity();
    double high = -low;
    for (const Vec3& p : solid.mesh.points) {
        low = std::min(low, p.z());
        high = std::max(high, p.z());
    }
    std::array<EndPlane, 2> planes{EndPlane{low, Vec2::Zero()}, EndPlane{high, Vec2::Zero()}};
    for (std::size_t i = 0; i < 2; ++i) {
        const int face = end_face(solid, section, i == 1);
        if (face >= 0) ends.cuts[i] = cut_of(solid, face, planes[i]);
    }
    ends.shape = shape_of(ends.cuts);
    const Vec2 difference = planes[1].slope - planes[0].slope;
    ends.centre_mm = planes[1].at - planes[0].at;
    ends.long_point_mm = ends.centre_mm + reach(section, difference);
    ends.short_point_mm = ends.centre_mm - reach(section, difference);
    ends.length_mm = ends.centre_mm + reach(section, planes[1].slope) + reach(section, planes[0].slope);
    return ends;
}

}  // namespace setwright::weldment
