#include "core/space/shape.h"

#include <algorithm>
#include <cmath>

namespace setwright::space {

namespace {

double cross(const Vec2& a, const Vec2& b) {
    return a.x() * b.y() - a.y() * b.x();
}

/// Where the segment comes closest to p, 0 at `from` and 1 at `to`.
double nearest_parameter(const Vec3& p, const Vec3& from, const Vec3& to) {
    const Vec3 along = to - from;
    const double length2 = along.squaredNorm();
    return length2 > 0 ? std::clamp((p - from).dot(along) / length2, 0.0, 1.0) : 0.0;
}

}  // namespace

Aabb Aabb::grown(double by) const {
    if (empty()) return {};
    return {min.array() - by, max.array() + by};
}

Aabb Aabb::moved(const Pose& X) const {
    if (empty()) return {};
    const Vec3 middle = X * centre();
    const Vec3 half = X.rotation().cwiseAbs() * (size() / 2);
    return {middle - half, middle + half};
}

double Aabb::distance(const Aabb& other) const {
    if (empty() || other.empty()) return std::numeric_limits<double>::infinity();
    return (other.min - max).cwiseMax(min - other.max).cwiseMax(Vec3::Zero()).norm();
}

double area(const Polygon2& polygon) {
    if (polygon.size() < 3) return 0;
    double twice = 0;
    // About the first corner: far from the origin the plain sum loses its digits.
    for (std::size_t i = 1; i + 1 < polygon.size(); ++i)
        twice += cross(polygon[i] - polygon[0], polygon[i + 1] - polygon[0]);
    return twice / 2;
}

Vec2 centroid(const Polygon2& polygon) {
    if (polygon.empty()) return Vec2::Zero();
    Vec2 sum = Vec2::Zero();
    double twice = 0, span2 = 0;
    for (std::size_t i = 1; i + 1 < polygon.size(); ++i) {
        const Vec2 a = polygon[i] - polygon[0];
        const Vec2 b = polygon[i + 1] - polygon[0];
        twice += cross(a, b);
        sum += cross(a, b) * (a + b) / 3;
        span2 = std::max({span2, a.squaredNorm(), b.squaredNorm()});
    }
    if (std::abs(twice) > span2 * 1e-12) return polygon[0] + sum / twice;
    Vec2 mean = Vec2::Zero();
    for (const Vec2& p : polygon) mean += p;
    return mean / static_cast<double>(polygon.size());
}

bool contains(const Polygon2& polygon, const Vec2& point) {
    bool inside = false;
    for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
        const Vec2& a = polygon[i];
        const Vec2& b = polygon[j];
        if ((a.y() > point.y()) == (b.y() > point.y())) continue;
        if (point.x() < a.x() + (b.x() - a.x()) * (point.y() - a.y()) / (b.y() - a.y())) inside = !inside;
    }
    return inside;
}

Polygon2 clip_to_convex(const Polygon2& polygon, const Polygon2& window) {
    if (window.size() < 3) return {};
    Polygon2 part = polygon;
    for (std::size_t i = 0; i < window.size() && !part.empty(); ++i) {
        const Vec2 from = window[i];
        const Vec2 along = window[(i + 1) % window.size()] - from;
        Polygon2 kept;
        for (std::size_t k = 0; k < part.size(); ++k) {
            const Vec2& p = part[k];
            const Vec2& q = part[(k + 1) % part.size()];
            const double side_p = cross(along, p - from);
            const double side_q = cross(along, q - from);
            if (side_p >= 0) kept.push_back(p);
            if ((side_p > 0 && side_q < 0) || (side_p < 0 && side_q > 0))
                kept.push_back(p + (q - p) * (side_p / (side_p - side_q)));
        }
        part = std::move(kept);
    }
    return part.size() < 3 ? Polygon2{} : part;
}

SegmentPair closest(const Vec3& a0, const Vec3& a1, const Vec3& b0, const Vec3& b1) {
    const Vec3 along_a = a1 - a0;
    const Vec3 along_b = b1 - b0;
    SegmentPair best{std::numeric_limits<double>::infinity(), a0, b0};
    const auto offer = [&](const Vec3& on_a, const Vec3& on_b) {
        const double distance = (on_a - on_b).norm();
        if (distance < best.distance_mm) best = {distance, on_a, on_b};
    };
    // The nearest pair lies at an end of one segment, or inside both.
    offer(a0, b0 + nearest_parameter(a0, b0, b1) * along_b);
    offer(a1, b0 + nearest_parameter(a1, b0, b1) * along_b);
    offer(a0 + nearest_parameter(b0, a0, a1) * along_a, b0);
    offer(a0 + nearest_parameter(b1, a0, a1) * along_a, b1);
    const double aa = along_a.squaredNorm(), bb = along_b.squaredNorm(), ab = along_a.dot(along_b);
    const double denominator = aa * bb - ab * ab;
    if (denominator > 0) {
        const Vec3 between = b0 - a0;
        const double s = (between.dot(along_a) * bb - between.dot(along_b) * ab) / denominator;
        const double t = (between.dot(along_a) * ab - between.dot(along_b) * aa) / denominator;
        if (s > 0 && s < 1 && t > 0 && t < 1) offer(a0 + s * along_a, b0 + t * along_b);
    }
    return best;
}

}  // namespace setwright::space
