#include "viewer/pick.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/base/limits.h"

namespace setwright::viewer {

namespace {

using space::Vec3;

constexpr double never = std::numeric_limits<double>::infinity();

/// Where the ray enters the box, never where it misses it. `grown`: how far beside the box still counts.
double enters(const Ray& ray, const space::Aabb& box, double grown) {
    if (box.empty()) return never;
    double from = 0, to = never;
    for (int k = 0; k < 3; ++k) {
        const double o = ray.origin_T[k], d = ray.direction_T[k];
        const double low = box.min[k] - grown - o, high = box.max[k] + grown - o;
        if (d == 0) {
            if (low > 0 || high < 0) return never;
            continue;
        }
        from = std::max(from, std::min(low / d, high / d));
        to = std::min(to, std::max(low / d, high / d));
    }
    return from <= to ? from : never;
}

struct Hit {
    double t = never;
    std::size_t triangle = 0;
};

/// The ray is in the mesh's frame. Both sides of a triangle count. After Möller and Trumbore, "Fast, Minimum Storage
/// Ray/Triangle Intersection", 1997.
Hit first_hit(const Ray& ray, const space::Mesh& mesh) {
    Hit hit;
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i) {
        const auto& [a, b, c] = mesh.triangles[i];
        const Vec3 ab = mesh.points[b] - mesh.points[a];
        const Vec3 ac = mesh.points[c] - mesh.points[a];
        const Vec3 p = ray.direction_T.cross(ac);
        const double det = ab.dot(p);
        if (det == 0) continue;
        const Vec3 from_a = ray.origin_T - mesh.points[a];
        const double u = from_a.dot(p) / det;
        if (u < 0 || u > 1) continue;
        const Vec3 q = from_a.cross(ab);
        const double v = ray.direction_T.dot(q) / det;
        if (v < 0 || u + v > 1) continue;
        const double t = ac.dot(q) / det;
        if (t >= 0 && t < hit.t) hit = {t, i};
    }
    return hit;
}

Vec3 normal_of(const space::Mesh& mesh, std::size_t triangle) {
    const auto& [a, b, c] = mesh.triangles[triangle];
    return (mesh.points[b] - mesh.points[a]).cross(mesh.points[c] - mesh.points[a]).normalized();
}

Ray into(const Ray& ray, const space::Pose& X_TS) {
    const space::Pose X_ST = X_TS.inverse();
    return {X_ST * ray.origin_T, X_ST.turn(ray.direction_T)};
}

using Passes = std::function<bool(const ItemId&)>;

space::Aabb plate_box(const shop::Table& table) {
    space::Aabb box;
    box.add(Vec3(-table.margin_west_mm, -table.margin_south_mm, -table.thickness_mm));
    box.add(Vec3(table.length_mm - table.margin_west_mm, table.width_mm - table.margin_south_mm, 0));
    return box;
}

struct First {
    double t = never;
    const std::pair<const ItemId, Item>* item = nullptr;
    std::size_t triangle = 0;
};

First first_item(const Scene& scene, const Ray& ray, const Passes& passes) {
    First first;
    for (const auto& entry : scene.items) {
        const auto& [id, item] = entry;
        const Ray in_S = into(ray, item.X_TS);
        if (enters(in_S, item.shape->box, base::limits::coincident_mm) >= first.t) continue;
        if (passes && !passes(id)) continue;
        const Hit hit = first_hit(in_S, item.shape->mesh);
        if (hit.t < first.t) first = {hit.t, &entry, hit.triangle};
    }
    return first;
}

/// A flat face that the eye sees as a line.
struct Upright {
    double aside_mm = never;
    double t = never;
    const std::pair<const ItemId, Item>* item = nullptr;
    int face = -1;
    Vec3 point_T = Vec3::Zero(), normal_T = Vec3::UnitZ();
};

/// The part of a face seen edge-on that lies nearest to the ray: `across` is measured along the line it is seen as.
struct Line {
    double low = never, high = -never;
    /// Sides of its triangles as (across, along the ray).
    std::vector<std::array<double, 4>> sides;

    void add(const Vec3& a, const Vec3& b, const Vec3& u, const Vec3& d) {
        sides.push_back({a.dot(u), a.dot(d), b.dot(u), b.dot(d)});
        low = std::min({low, sides.back()[0], sides.back()[2]});
        high = std::max({high, sides.back()[0], sides.back()[2]});
    }
    double nearest_depth(double across) const {
        double depth = never;
        for (const auto& [ua, da, ub, db] : sides) {
            if (across < std::min(ua, ub) || across > std::max(ua, ub)) continue;
            depth = std::min(depth, ua == ub ? std::min(da, db) : da + (db - da) * (across - ua) / (ub - ua));
        }
        return depth;
    }
};

std::vector<Upright> uprights_near(const Scene& scene, const Ray& ray, double aperture_mm, const Passes& passes) {
    const double edge_on = std::sin(base::Angle::deg(base::limits::face_word_deg).rad());
    std::vector<Upright> found;
    for (const auto& entry : scene.items) {
        const auto& [id, item] = entry;
        if (!std::holds_alternative<PieceId>(id)) continue;
        const Ray in_S = into(ray, item.X_TS);
        if (enters(in_S, item.shape->box, aperture_mm) == never) continue;
        if (passes && !passes(id)) continue;
        const space::Mesh& mesh = item.shape->mesh;
        const Vec3& d = in_S.direction_T;
        // Triangles of one face are in a row in a solid's mesh.
        for (std::size_t i = 0; i < mesh.triangles.size();) {
            std::size_t end = i + 1;
            while (end < mesh.triangles.size() && item.shape->face[end] == item.shape->face[i]) ++end;
            const Vec3 n = normal_of(mesh, i);
            const double aside = n.dot(mesh.points[mesh.triangles[i][0]] - in_S.origin_T);
            bool flat = std::abs(n.dot(d)) <= edge_on && std::abs(aside) <= aperture_mm;
            Line line;
            const Vec3 u = n.cross(d).normalized();
            for (std::size_t t = i; flat && t < end; ++t) {
                const auto& corners = mesh.triangles[t];
                for (std::size_t k = 0; k < 3; ++k) {
                    const Vec3 a = mesh.points[corners[k]] - in_S.origin_T;
                    const Vec3 b = mesh.points[corners[(k + 1) % 3]] - in_S.origin_T;
                    if (std::abs(n.dot(a) - aside) > base::limits::exact_face_mm) flat = false;
                    line.add(a, b, u, d);
                }
            }
            if (flat) {
                const double across = std::clamp(0.0, line.low, line.high);
                const double away = std::hypot(aside, across);
                const double depth = line.nearest_depth(across);
                if (away <= aperture_mm && depth >= 0 && depth < never)
                    found.push_back({away, depth, &entry, item.shape->face[i],
                                     item.X_TS * (in_S.origin_T + n * aside + u * across + d * depth),
                                     item.X_TS.turn(n)});
            }
            i = end;
        }
    }
    std::sort(found.begin(), found.end(), [](const Upright& a, const Upright& b) {
        // What stands above another in one line goes before it.
        if (std::abs(a.aside_mm - b.aside_mm) > base::limits::contact_mm) return a.aside_mm < b.aside_mm;
        return a.t < b.t;
    });
    return found;
}

/// A look just past the face, on its open side, meets nothing before it.
bool at_the_front(const Scene& scene, const Ray& ray, const Upright& upright, const Passes& passes) {
    Ray past = ray;
    past.origin_T = upright.point_T - upright.t * ray.direction_T + base::limits::contact_mm * upright.normal_T;
    return first_item(scene, past, passes).t > upright.t + base::limits::contact_mm;
}

}  // namespace

Picked pick(const Scene& scene, const Ray& ray, double aperture_mm, const Passes& passes) {
    Picked picked;
    const shop::Table& table = scene.table;
    const space::Aabb plate = plate_box(table);
    if (ray.direction_T.z() != 0) {
        const double t = -ray.origin_T.z() / ray.direction_T.z();
        if (t >= 0) {
            Vec3 p = ray.origin_T + t * ray.direction_T;
            p.z() = 0;
            picked.on_table_T = p;
            if (table.cols > 0 && table.rows > 0 && table.pitch_x_mm > 0 && table.pitch_y_mm > 0 &&
                (p.array() >= plate.min.array()).all() && (p.array() <= plate.max.array()).all())
                picked.hole = shop::Hole{
                    static_cast<int>(std::clamp(std::round(p.x() / table.pitch_x_mm), 0.0, table.cols - 1.0)),
                    static_cast<int>(std::clamp(std::round(p.y() / table.pitch_y_mm), 0.0, table.rows - 1.0))};
        }
    }

    const First first = first_item(scene, ray, passes);
    const double at_plate = enters(ray, plate, 0);
    if (first.item && first.t <= at_plate) {
        const auto& [id, item] = *first.item;
        picked.kind = Picked::Kind::item;
        picked.item = id;
        picked.face = std::holds_alternative<PieceId>(id) ? item.shape->face[first.triangle] : -1;
        picked.point_T = ray.origin_T + first.t * ray.direction_T;
        picked.normal_T = item.X_TS.turn(normal_of(item.shape->mesh, first.triangle));
    } else if (at_plate < never) {
        picked.kind = Picked::Kind::table;
        picked.point_T = ray.origin_T + at_plate * ray.direction_T;
        // The side of the plate that the point lies on.
        double least = never;
        for (int k = 0; k < 3; ++k)
            for (const double side : {-1.0, 1.0}) {
                const double off = std::abs(picked.point_T[k] - (side < 0 ? plate.min[k] : plate.max[k]));
                if (off >= least) continue;
                least = off;
                picked.normal_T = side * Vec3::Unit(k);
            }
    }
    if (aperture_mm <= 0) return picked;
    for (const Upright& upright : uprights_near(scene, ray, aperture_mm, passes)) {
        // Behind the plate for those who look from below.
        if (upright.t > at_plate && ray.direction_T.z() > 0) continue;
        if (!at_the_front(scene, ray, upright, passes)) continue;
        picked.kind = Picked::Kind::item;
        picked.item = upright.item->first;
        picked.face = upright.face;
        picked.point_T = upright.point_T;
        picked.normal_T = upright.normal_T;
        break;
    }
    return picked;
}

}  // namespace setwright::viewer
