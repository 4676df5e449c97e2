#pragma once

#include <algorithm>
#include <initializer_list>

#include "core/weldment/recognise.h"

/// Bodies drawn in code. Corners are sharp: rounded ones come from the sample files.
namespace setwright::weldment {

inline space::Polygon2 rectangle(double width_mm, double depth_mm) {
    const double x = width_mm / 2;
    const double y = depth_mm / 2;
    return {{-x, -y}, {x, -y}, {x, y}, {-x, y}};
}

inline space::Brep tube(double width_mm, double depth_mm, double wall_mm, double z0_mm, double z1_mm) {
    space::Polygon2 hole = rectangle(width_mm - 2 * wall_mm, depth_mm - 2 * wall_mm);
    std::reverse(hole.begin(), hole.end());
    return space::Brep::prism(rectangle(width_mm, depth_mm), {hole}, z0_mm, z1_mm).value();
}

inline space::Brep bar(double width_mm, double depth_mm, double length_mm) {
    return space::Brep::prism(rectangle(width_mm, depth_mm), {}, 0, length_mm).value();
}

/// Without everything beyond the plane through `at` on the side `outward` points to.
inline space::Brep cut_off(const space::Brep& body, const space::Vec3& at, const space::Vec3& outward) {
    const space::Pose X = space::Pose::from_axes(at, outward.normalized(), outward.unitOrthogonal());
    return space::Brep::cut(body, space::Brep::box({-500, -500, 0}, {500, 500, 500}).moved(X)).value();
}

inline space::Solid solid(const space::Brep& body) {
    return space::describe(body).value();
}

inline space::Bodies bodies(std::initializer_list<space::Brep> breps) {
    space::Bodies all;
    all.file_unit = "mm";
    for (const space::Brep& brep : breps) {
        all.solids.push_back(std::make_shared<const space::Solid>(solid(brep)));
        all.breps.push_back(brep);
        space::Body body;
        body.solid = static_cast<std::uint32_t>(all.bodies.size());
        all.bodies.push_back(body);
    }
    return all;
}

/// Turned about no axis in particular, so that nothing works by lying along M's axes.
inline space::Pose skew_pose() {
    return space::Pose::move(123.4, -56.7, 89.1) * space::Pose::turn_z(base::Angle::deg(37.3)) *
           space::Pose::turn_x(base::Angle::deg(-21.9)) * space::Pose::turn_y(base::Angle::deg(64.1));
}

inline bool doubts(const std::vector<base::Text>& doubts, std::string_view id) {
    return std::any_of(doubts.begin(), doubts.end(), [&](const base::Text& text) { return text.id == id; });
}

}  // namespace setwright::weldment
