#include "core/space/mesh.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include "core/base/bug.h"

namespace setwright::space {

namespace {

double cross(const Vec2& o, const Vec2& a, const Vec2& b) {
    return (a.x() - o.x()) * (b.y() - o.y()) - (a.y() - o.y()) * (b.x() - o.x());
}

/// Cuts off ears, the best shaped first, so that corners in line leave no slivers where others can be had.
std::vector<std::array<std::uint32_t, 3>> triangulate(const Polygon2& outline) {
    std::vector<std::uint32_t> left(outline.size());
    for (std::uint32_t i = 0; i < left.size(); ++i) left[i] = i;
    std::vector<std::array<std::uint32_t, 3>> triangles;
    while (left.size() > 2) {
        const std::size_t n = left.size();
        std::size_t best = n;
        double best_shape = -1;
        for (std::size_t k = 0; k < n; ++k) {
            const Vec2& a = outline[left[(k + n - 1) % n]];
            const Vec2& b = outline[left[k]];
            const Vec2& c = outline[left[(k + 1) % n]];
            const double longest2 = std::max({(b - a).squaredNorm(), (c - b).squaredNorm(), (a - c).squaredNorm()});
            const double shape = longest2 > 0 ? cross(a, b, c) / longest2 : 0;
            if (shape < 0 || shape <= best_shape) continue;
            const bool clear = std::none_of(left.begin(), left.end(), [&](std::uint32_t i) {
                const Vec2& p = outline[i];
                if (p == a || p == b || p == c) return false;
                return cross(a, b, p) >= 0 && cross(b, c, p) >= 0 && cross(c, a, p) >= 0;
            });
            if (!clear) continue;
            best = k;
            best_shape = shape;
        }
        // An outline that crosses itself has no ear left: the rest is fanned, so that the sides stay joined.
        if (best == n) best = 0;
        triangles.push_back({left[(best + n - 1) % n], left[best], left[(best + 1) % n]});
        left.erase(left.begin() + static_cast<std::ptrdiff_t>(best));
    }
    return triangles;
}

}  // namespace

Aabb Mesh::box() const {
    Aabb box;
    for (const Vec3& p : points) box.add(p);
    return box;
}

void Mesh::add(const Mesh& other, const Pose& X) {
    const auto offset = static_cast<std::uint32_t>(points.size());
    const std::size_t point_count = other.points.size(), triangle_count = other.triangles.size();
    points.reserve(points.size() + point_count);
    triangles.reserve(triangles.size() + triangle_count);
    // By index: `other` may be this mesh.
    for (std::size_t i = 0; i < point_count; ++i) points.push_back(X * Vec3(other.points[i]));
    for (std::size_t i = 0; i < triangle_count; ++i) {
        const auto [a, b, c] = other.triangles[i];
        triangles.push_back({a + offset, b + offset, c + offset});
    }
}

double Mesh::volume_mm3() const {
    if (points.empty()) return 0;
    // About a corner of the body: far from the origin the plain sum loses its digits.
    const Vec3& o = points.front();
    double six = 0;
    for (const auto& [a, b, c] : triangles) six += (points[a] - o).dot((points[b] - o).cross(points[c] - o));
    return six / 6;
}

Mesh box_mesh(const Vec3& min, const Vec3& max) {
    return prism_mesh({{min.x(), min.y()}, {max.x(), min.y()}, {max.x(), max.y()}, {min.x(), max.y()}}, min.z(),
                      max.z());
}

Mesh cylinder_mesh(const Vec3& from, const Vec3& to, double radius_mm, int sides) {
    const Vec3 along = to - from;
    const double length = along.norm();
    if (!(length > 0) || !(radius_mm > 0)) return {};
    SETWRIGHT_ASSERT(sides >= 3, "a prism has at least three sides");
    const Vec3 hint = std::abs(along.x()) < 0.9 * length ? Vec3::UnitX() : Vec3::UnitY();
    const double corner_radius = radius_mm / std::cos(std::numbers::pi / sides);
    Polygon2 outline;
    for (int i = 0; i < sides; ++i) {
        const base::Angle a = base::Angle::deg((i + 0.5) * 360.0 / sides);
        outline.emplace_back(corner_radius * base::cos(a), corner_radius * base::sin(a));
    }
    return prism_mesh(outline, 0, length, Pose::from_axes(from, along / length, hint));
}

Mesh prism_mesh(const Polygon2& outline, double z0_mm, double z1_mm, const Pose& X) {
    const double signed_area = area(outline);
    if (signed_area == 0 || z0_mm == z1_mm) return {};
    Polygon2 corners = outline;
    if (signed_area < 0) std::reverse(corners.begin(), corners.end());
    const auto [low, high] = std::minmax(z0_mm, z1_mm);
    Mesh mesh;
    for (const double z : {low, high})
        for (const Vec2& p : corners) mesh.points.push_back(X * Vec3(p.x(), p.y(), z));
    const auto n = static_cast<std::uint32_t>(corners.size());
    for (const auto& [a, b, c] : triangulate(corners)) {
        mesh.triangles.push_back({a, c, b});
        mesh.triangles.push_back({a + n, b + n, c + n});
    }
    for (std::uint32_t i = 0; i < n; ++i) {
        const std::uint32_t j = (i + 1) % n;
        mesh.triangles.push_back({i, j, j + n});
        mesh.triangles.push_back({i, j + n, i + n});
    }
    return mesh;
}

}  // namespace setwright::space
