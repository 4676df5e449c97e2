#include "core/space/proximity.h"

#include <fcl/geometry/bvh/BVH_model.h>
#include <fcl/narrowphase/collision.h>
#include <fcl/narrowphase/distance.h>

#include <algorithm>
#include <exception>
#include <map>
#include <numbers>
#include <tuple>

#include "core/base/bug.h"
#include "core/base/limits.h"

namespace setwright::space {

namespace {

using Model = fcl::BVHModel<fcl::OBBRSSd>;

fcl::Transform3d fcl_pose(const Pose& X) {
    fcl::Transform3d out = fcl::Transform3d::Identity();
    out.linear() = X.rotation();
    out.translation() = X.position();
    return out;
}

/// One corner of every connected shell, welded by position: STEP meshes repeat points along the edges of faces.
std::vector<Vec3> one_point_per_shell(const std::vector<Vec3>& points,
                                      const std::vector<std::array<std::uint32_t, 3>>& triangles) {
    std::map<std::tuple<long long, long long, long long>, std::size_t> welded;
    const auto node = [&](const Vec3& p) {
        const auto snap = [](double v) { return std::llround(v / base::limits::coincident_mm); };
        return welded.try_emplace({snap(p.x()), snap(p.y()), snap(p.z())}, welded.size()).first->second;
    };
    std::vector<std::array<std::size_t, 3>> corners;
    corners.reserve(triangles.size());
    for (const auto& t : triangles) corners.push_back({node(points[t[0]]), node(points[t[1]]), node(points[t[2]])});

    std::vector<std::size_t> parent(welded.size());
    for (std::size_t i = 0; i < parent.size(); ++i) parent[i] = i;
    const auto root = [&](std::size_t i) {
        while (parent[i] != i) i = parent[i] = parent[parent[i]];
        return i;
    };
    for (const auto& c : corners) {
        parent[root(c[1])] = root(c[0]);
        parent[root(c[2])] = root(c[0]);
    }
    std::map<std::size_t, Vec3> first;
    for (std::size_t i = 0; i < triangles.size(); ++i) first.try_emplace(root(corners[i][0]), points[triangles[i][0]]);
    std::vector<Vec3> out;
    for (const auto& [shell, point] : first) out.push_back(point);
    return out;
}

/// Points in which an edge of one triangle goes through the other.
void add_crossings(const std::array<Vec3, 3>& edges_of, const std::array<Vec3, 3>& through, std::vector<Vec3>& out) {
    const Vec3 normal = (through[1] - through[0]).cross(through[2] - through[0]);
    for (std::size_t i = 0; i < 3; ++i) {
        const Vec3& a = edges_of[i];
        const Vec3& b = edges_of[(i + 1) % 3];
        const double da = normal.dot(a - through[0]);
        const double db = normal.dot(b - through[0]);
        if ((da > 0) == (db > 0)) continue;
        const Vec3 p = a + (b - a) * (da / (da - db));
        bool inside = true;
        for (std::size_t k = 0; k < 3; ++k) {
            inside = inside && normal.dot((through[(k + 1) % 3] - through[k]).cross(p - through[k])) >= 0;
        }
        if (inside) out.push_back(p);
    }
}

}  // namespace

struct ProximityBody::Impl {
    Model model;
    std::vector<Vec3> points;
    std::vector<std::array<std::uint32_t, 3>> triangles;
    std::vector<Vec3> shells;

    std::array<Vec3, 3> triangle(int i, const Pose& X) const {
        const auto& t = triangles[static_cast<std::size_t>(i)];
        return {X * points[t[0]], X * points[t[1]], X * points[t[2]]};
    }

    /// Winding number by solid angles (van Oosterom and Strackee 1983): right also where parts of a body overlap.
    bool encloses(const Vec3& p) const {
        double turn = 0;
        for (const auto& t : triangles) {
            const Vec3 a = points[t[0]] - p;
            const Vec3 b = points[t[1]] - p;
            const Vec3 c = points[t[2]] - p;
            const double la = a.norm(), lb = b.norm(), lc = c.norm();
            turn += 2 * std::atan2(a.dot(b.cross(c)), la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb);
        }
        return turn > 2 * std::numbers::pi;
    }
};

ProximityBody::ProximityBody(const Mesh& mesh) {
    auto impl = std::make_shared<Impl>();
    impl->points = mesh.points;
    std::vector<fcl::Triangle> triangles;
    for (const auto& t : mesh.triangles) {
        const Vec3& a = mesh.points[t[0]];
        // A triangle of no area has no plane; its edges belong to its neighbours.
        if ((mesh.points[t[1]] - a).cross(mesh.points[t[2]] - a).squaredNorm() == 0) continue;
        impl->triangles.push_back(t);
        triangles.emplace_back(t[0], t[1], t[2]);
        for (const auto corner : t) box_.add(mesh.points[corner]);
    }
    if (!triangles.empty()) {
        std::vector<fcl::Vector3d> points(mesh.points.begin(), mesh.points.end());
        impl->model.beginModel(static_cast<int>(triangles.size()), static_cast<int>(points.size()));
        impl->model.addSubModel(points, triangles);
        impl->model.endModel();
        impl->shells = one_point_per_shell(impl->points, impl->triangles);
    }
    impl_ = std::move(impl);
}

namespace {

/// A point of one body inside the other, where one swallows the other whole and no surfaces meet.
std::optional<Vec3> swallowed(const ProximityBody& outer, const Pose& X_TO, const ProximityBody& inner,
                              const Pose& X_TI) {
    const Pose X_OI = X_TO.inverse() * X_TI;
    for (const Vec3& shell : inner.impl().shells) {
        const Vec3 p = X_OI * shell;
        const bool in_box =
            (p.array() >= outer.box().min.array()).all() && (p.array() <= outer.box().max.array()).all();
        if (in_box && outer.impl().encloses(p)) return X_TO * p;
    }
    return {};
}

std::optional<Separation> query(const ProximityBody& a, const Pose& X_TA, const ProximityBody& b, const Pose& X_TB,
                                double cutoff_mm) {
    // All queries run in a's frame: far from the origin FCL would lose digits, and moving both changes nothing.
    const Pose X_AB = X_TA.inverse() * X_TB;
    const fcl::Transform3d at_a = fcl::Transform3d::Identity();
    const fcl::Transform3d at_b = fcl_pose(X_AB);

    fcl::CollisionResultd hits;
    fcl::collide(&a.impl().model, at_a, &b.impl().model, at_b, fcl::CollisionRequestd(1, false), hits);
    if (hits.isCollision()) {
        const auto& hit = hits.getContact(0);
        const auto ta = a.impl().triangle(static_cast<int>(hit.b1), Pose());
        const auto tb = b.impl().triangle(static_cast<int>(hit.b2), X_AB);
        std::vector<Vec3> common;
        add_crossings(ta, tb, common);
        add_crossings(tb, ta, common);
        Vec3 at = Vec3::Zero();
        for (const Vec3& p : common) at += p / static_cast<double>(common.size());
        // Coplanar triangles cross nowhere; any corner is within their size.
        if (common.empty()) at = ta[0];
        return Separation{0, true, X_TA * at, X_TA * at};
    }
    for (const auto& inside : {swallowed(b, X_TB, a, X_TA), swallowed(a, X_TA, b, X_TB)}) {
        if (inside) return Separation{0, true, *inside, *inside};
    }

    // The result starts at the cutoff, so FCL prunes everything beyond it.
    fcl::DistanceResultd nearest(cutoff_mm);
    fcl::distance(&a.impl().model, at_a, &b.impl().model, at_b, fcl::DistanceRequestd(true), nearest);
    if (nearest.o1 == nullptr || nearest.min_distance > cutoff_mm) return {};
    if (nearest.min_distance <= 0) {
        const auto corner = a.impl().triangle(static_cast<int>(nearest.b1), X_TA)[0];
        return Separation{0, false, corner, corner};
    }
    return Separation{nearest.min_distance, false, X_TA * nearest.nearest_points[0], X_TA * nearest.nearest_points[1]};
}

}  // namespace

std::optional<Separation> separation(const ProximityBody& a, const Pose& X_TA, const ProximityBody& b, const Pose& X_TB,
                                     double cutoff_mm) {
    if (a.box().empty() || b.box().empty()) return {};
    if (a.box().moved(X_TA).distance(b.box().moved(X_TB)) > cutoff_mm) return {};
    try {
        return query(a, X_TA, b, X_TB, cutoff_mm);
    } catch (const std::exception& error) {
        base::bug("separation", error.what(), __FILE__, __LINE__);
    }
}

}  // namespace setwright::space
