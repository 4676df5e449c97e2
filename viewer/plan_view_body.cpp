#include "viewer/plan_view_body.h"

#include <algorithm>
#include <cmath>

#include "core/base/limits.h"

namespace setwright::viewer {

namespace {

using space::Mat3;
using space::Vec3;
using Corner = std::uint32_t;

/// A face deeper than this is painted in slices, so that of two sloping bodies each covers the other where it should.
constexpr double slice_mm = 15;
constexpr double outline_grid_mm = 1.0 / 64;

QPointF flat(const Vec3& p) {
    return {p.x(), -p.y()};
}

double least_facing() {
    return std::sin(base::Angle::deg(base::limits::face_word_deg).rad());
}

/// Directed sides that no second triangle of the set has, chained to loops; filled by winding they are the set's area.
class Rim {
  public:
    void add(Corner a, Corner b) {
        if (!sides_.erase({b, a})) sides_.insert({a, b});
    }
    QPainterPath path(const std::vector<Vec3>& points) {
        QPainterPath path;
        path.setFillRule(Qt::WindingFill);
        while (!sides_.empty()) {
            const Corner start = sides_.begin()->first;
            path.moveTo(flat(points[start]));
            for (auto side = sides_.begin(); side != sides_.end() && side->first != side->second;) {
                const Corner to = side->second;
                sides_.erase(side);
                path.lineTo(flat(points[to]));
                if (to == start) break;
                side = sides_.lower_bound({to, 0});
                if (side != sides_.end() && side->first != to) side = sides_.end();
            }
            path.closeSubpath();
        }
        return path;
    }

  private:
    std::set<std::pair<Corner, Corner>> sides_;
};

/// The part of a convex polygon between two depths.
std::vector<Vec3> between(std::vector<Vec3> polygon, double low, double high) {
    for (const auto& [level, keep] : {std::pair{low, 1.0}, std::pair{high, -1.0}}) {
        std::vector<Vec3> kept;
        for (std::size_t i = 0; i < polygon.size(); ++i) {
            const Vec3& a = polygon[i];
            const Vec3& b = polygon[(i + 1) % polygon.size()];
            const double in_a = keep * (a.z() - level), in_b = keep * (b.z() - level);
            if (in_a >= 0) kept.push_back(a);
            if ((in_a > 0 && in_b < 0) || (in_a < 0 && in_b > 0)) kept.push_back(a + (b - a) * (in_a / (in_a - in_b)));
        }
        polygon = std::move(kept);
    }
    return polygon;
}

/// Layers of one face.
struct Slices {
    double low = 0, high = 0;
    std::vector<FlatLayer> layers;

    double bottom(std::size_t i) const {
        // Both ends exactly: what lies level there belongs to the end slices.
        if (i == 0) return low;
        if (i == layers.size()) return high;
        return low + (high - low) * static_cast<double>(i) / static_cast<double>(layers.size());
    }
    void add_line(const Vec3& a, const Vec3& b) {
        if (layers.size() == 1) {
            add(layers.front(), a, b);
            return;
        }
        for (std::size_t i = 0; i < layers.size(); ++i) {
            const double from = bottom(i), to = bottom(i + 1);
            const double rise = b.z() - a.z();
            double s = 0, e = 1;
            if (std::abs(rise) < base::limits::coincident_mm) {
                if (a.z() < from || (a.z() >= to && i + 1 < layers.size())) continue;
            } else {
                const double at_from = (from - a.z()) / rise, at_to = (to - a.z()) / rise;
                s = std::max(0.0, std::min(at_from, at_to));
                e = std::min(1.0, std::max(at_from, at_to));
            }
            if (e > s) add(layers[i], a + (b - a) * s, a + (b - a) * e);
        }
    }

  private:
    static void add(FlatLayer& layer, const Vec3& a, const Vec3& b) {
        const QPointF from = flat(a), to = flat(b);
        if (from == to) return;
        if (!layer.lines.empty() && layer.lines.back().back() == from)
            layer.lines.back().append(to);
        else
            layer.lines.push_back(QPolygonF{from, to});
    }
};

}  // namespace

FlatBody flatten(const Shape& shape, const Mat3& R_VS) {
    std::vector<Vec3> points;
    for (const Vec3& p : shape.mesh.points) points.push_back(R_VS * p);
    const auto& triangles = shape.mesh.triangles;
    std::vector<Vec3> normals(triangles.size(), Vec3::Zero());
    std::map<int, std::vector<std::size_t>> front;
    std::map<std::pair<Corner, Corner>, std::size_t> across;
    Rim outline;
    for (std::size_t i = 0; i < triangles.size(); ++i) {
        const auto& [a, b, c] = triangles[i];
        const Vec3 n = (points[b] - points[a]).cross(points[c] - points[a]);
        if (n.norm() > 0) normals[i] = n.normalized();
        for (const auto& side : {std::pair{a, b}, std::pair{b, c}, std::pair{c, a}}) across[side] = i;
        if (normals[i].z() <= least_facing()) continue;
        front[shape.face[i]].push_back(i);
        for (const auto& [from, to] : {std::pair{a, b}, std::pair{b, c}, std::pair{c, a}}) outline.add(from, to);
    }

    std::map<int, Slices> faces;
    for (const auto& [face, members] : front) {
        Slices& slices = faces[face];
        slices.low = slices.high = points[triangles[members[0]][0]].z();
        bool is_flat = true;
        for (const std::size_t i : members) {
            is_flat &= normals[i].dot(normals[members[0]]) > 1 - 1e-6;
            for (const Corner c : triangles[i]) {
                slices.low = std::min(slices.low, points[c].z());
                slices.high = std::max(slices.high, points[c].z());
            }
        }
        const double depth = slices.high - slices.low;
        slices.layers.resize(static_cast<std::size_t>(std::clamp(std::ceil(depth / slice_mm), 1.0, 400.0)));
        for (std::size_t i = 0; i < slices.layers.size(); ++i) {
            slices.layers[i].face = face;
            // A face lies where its upper end is: what stands on a sloping face is above all of it.
            slices.layers[i].depth_mm = slices.bottom(i + 1);
        }
        if (is_flat && slices.layers.size() == 1) {
            Rim rim;
            for (const std::size_t i : members)
                for (std::size_t k = 0; k < 3; ++k) rim.add(triangles[i][k], triangles[i][(k + 1) % 3]);
            slices.layers[0].areas.push_back({rim.path(points), normals[members[0]]});
            continue;
        }
        for (const std::size_t i : members) {
            const std::vector<Vec3> corners{points[triangles[i][0]], points[triangles[i][1]], points[triangles[i][2]]};
            for (std::size_t k = 0; k < slices.layers.size(); ++k) {
                const std::vector<Vec3> part =
                    slices.layers.size() == 1 ? corners : between(corners, slices.bottom(k), slices.bottom(k + 1));
                if (part.size() < 3) continue;
                QPolygonF polygon;
                for (const Vec3& p : part) polygon.append(flat(p));
                polygon.append(polygon.front());
                QPainterPath path;
                path.addPolygon(polygon);
                slices.layers[k].areas.push_back({std::move(path), normals[i]});
            }
        }
    }

    for (std::size_t e = 0; e < shape.edges.size(); ++e) {
        std::set<int> beside(shape.edge_faces[e].begin(), shape.edge_faces[e].end());
        for (const int face : beside)
            if (const auto slices = faces.find(face); slices != faces.end())
                for (std::size_t i = 1; i < shape.edges[e].size(); ++i)
                    slices->second.add_line(R_VS * shape.edges[e][i - 1], R_VS * shape.edges[e][i]);
    }
    // Where a round side turns away from the eye there is no edge, but a line to be seen.
    const double bend = std::cos(base::Angle::deg(base::limits::drawn_edge_deg).rad());
    for (const auto& [face, members] : front)
        for (const std::size_t i : members)
            for (std::size_t k = 0; k < 3; ++k) {
                const Corner a = triangles[i][k], b = triangles[i][(k + 1) % 3];
                const auto other = across.find({b, a});
                if (other == across.end() || normals[other->second].z() > least_facing()) continue;
                if (normals[other->second].dot(normals[i]) < bend) continue;
                faces[face].add_line(points[a], points[b]);
            }

    FlatBody body;
    for (auto& [face, slices] : faces)
        for (FlatLayer& layer : slices.layers)
            if (!layer.areas.empty() || !layer.lines.empty()) body.layers.push_back(std::move(layer));
    std::stable_sort(body.layers.begin(), body.layers.end(),
                     [](const FlatLayer& a, const FlatLayer& b) { return a.depth_mm < b.depth_mm; });
    // Parts that overlap become one area; a single loop is one already. Qt loses areas whose corners all but coincide:
    // on a coarse grid there are few such, and where an area is lost all the same the loops are kept as they are.
    std::vector<Vec3> on_grid;
    for (const Vec3& p : points) on_grid.push_back((p / outline_grid_mm).array().round() * outline_grid_mm);
    body.outline = outline.path(on_grid);
    if (body.outline.toSubpathPolygons().size() > 1) {
        const QPainterPath together = body.outline.simplified();
        bool whole = true;
        for (const auto& [face, members] : front)
            for (const std::size_t i : members) {
                const auto& [a, b, c] = triangles[i];
                whole = whole && together.contains(flat((points[a] + points[b] + points[c]) / 3));
            }
        if (whole) body.outline = together;
    }
    body.box = body.outline.boundingRect();
    return body;
}

FlatFace flatten_face(const Shape& shape, int face, const Mat3& R_VS) {
    FlatFace out;
    std::vector<Vec3> points;
    for (const Vec3& p : shape.mesh.points) points.push_back(R_VS * p);
    Rim rim;
    bool edge_on = true;
    Vec3 normal = Vec3::Zero();
    std::vector<Vec3> corners;
    for (std::size_t i = 0; i < shape.mesh.triangles.size(); ++i) {
        if (shape.face[i] != face) continue;
        const auto& [a, b, c] = shape.mesh.triangles[i];
        const Vec3 n = (points[b] - points[a]).cross(points[c] - points[a]);
        if (n.norm() > 0 && std::abs(n.normalized().z()) > least_facing()) edge_on = false;
        normal += n;
        for (std::size_t k = 0; k < 3; ++k) rim.add(shape.mesh.triangles[i][k], shape.mesh.triangles[i][(k + 1) % 3]);
        for (const Corner corner : {a, b, c}) corners.push_back(points[corner]);
    }
    if (corners.empty()) return out;
    if (!edge_on) {
        out.area = rim.path(points);
        return out;
    }
    const Vec3 along = normal.cross(Vec3::UnitZ());
    const auto [low, high] = std::minmax_element(
        corners.begin(), corners.end(), [&](const Vec3& a, const Vec3& b) { return a.dot(along) < b.dot(along); });
    out.line = QPolygonF{flat(*low), flat(*high)};
    return out;
}

}  // namespace setwright::viewer
