#pragma once

#include <limits>
#include <vector>

#include "core/space/pose.h"

namespace setwright::space {

/// Axis-aligned box; empty until something is added.
struct Aabb {
    Vec3 min = Vec3::Constant(std::numeric_limits<double>::infinity());
    Vec3 max = Vec3::Constant(-std::numeric_limits<double>::infinity());

    bool empty() const { return (min.array() > max.array()).any(); }
    Vec3 centre() const { return (min + max) / 2; }
    Vec3 size() const { return max - min; }
    void add(const Vec3& p) {
        min = min.cwiseMin(p);
        max = max.cwiseMax(p);
    }
    void add(const Aabb& other) {
        min = min.cwiseMin(other.min);
        max = max.cwiseMax(other.max);
    }
    Aabb grown(double by) const;
    /// Box of the moved box.
    Aabb moved(const Pose& X) const;
    /// 0 where they touch or overlap; empty boxes are infinitely far.
    double distance(const Aabb& other) const;
};

using Polygon2 = std::vector<Vec2>;

/// Signed: positive counter-clockwise.
double area(const Polygon2& polygon);
/// Centre of area; the mean of the corners where the area is nothing.
Vec2 centroid(const Polygon2& polygon);
bool contains(const Polygon2& polygon, const Vec2& point);
/// The part of `polygon` (any simple one, either winding) inside the counter-clockwise convex `window`. Where the part
/// falls apart its pieces stay joined by edges of no width: area and extent are right.
Polygon2 clip_to_convex(const Polygon2& polygon, const Polygon2& window);
/// Closest points of two segments, degenerate ones included.
struct SegmentPair {
    double distance_mm;
    Vec3 on_a, on_b;
};
SegmentPair closest(const Vec3& a0, const Vec3& a1, const Vec3& b0, const Vec3& b1);

}  // namespace setwright::space
