#include "core/weldment/joint.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <optional>

#include "core/base/limits.h"

namespace setwright::weldment {

using namespace base::limits;
using space::Aabb;
using space::Polygon2;
using space::Vec2;
using space::Vec3;

bool Flat::covers(const Vec2& q) const {
    // Even-odd over all loops: inside the outer one and in no hole.
    bool inside = false;
    for (const Polygon2& ring : rings) inside ^= space::contains(ring, q);
    return inside;
}

const Rounding* Flat::rounding_at(const Vec2& q) const {
    for (const Rounding& rounding : roundings) {
        if (space::contains(rounding.outline, q)) return &rounding;
    }
    return nullptr;
}

double Flat::drop(const Rounding& rounding, const Vec2& q) const {
    const Vec3 from_axis = point + u * q.x() + v * q.y() - rounding.on_axis;
    const double along_normal = from_axis.dot(normal);
    const Vec3 across = from_axis - normal * along_normal - rounding.axis * rounding.axis.dot(from_axis);
    const double r = rounding.radius_mm;
    return along_normal - std::sqrt(std::max(0.0, r * r - across.squaredNorm()));
}

std::vector<Flat> flats_of(const Piece& piece) {
    const space::Solid& solid = *piece.solid;
    std::vector<Flat> flats;
    for (std::size_t i = 0; i < solid.faces.size(); ++i) {
        const space::Face& face = solid.faces[i];
        if (face.surface.kind != space::SurfaceKind::plane) continue;
        Flat flat;
        flat.face = static_cast<int>(i);
        flat.point = piece.X_MP * face.surface.point;
        flat.normal = piece.X_MP.turn(face.surface.axis).normalized();
        flat.u = flat.normal.unitOrthogonal();
        flat.v = flat.normal.cross(flat.u);
        for (const space::Loop& loop : face.loops) {
            Polygon2 ring;
            ring.reserve(loop.polyline.size());
            for (const Vec3& p : loop.polyline) {
                const Vec3 p_M = piece.X_MP * p;
                flat.box.add(p_M);
                ring.push_back(flat.in_plane(p_M));
            }
            if (loop.outer) flat.outer_ring = flat.rings.size();
            flat.rings.push_back(std::move(ring));
            if (!loop.outer) continue;
            for (const std::uint32_t e : loop.edges) {
                const space::Edge& edge = solid.edges[e];
                Border border;
                border.beyond = edge.face_a == flat.face ? edge.face_b : edge.face_a;
                border.smooth = edge.convexity == space::Convexity::smooth;
                if (edge.convexity == space::Convexity::concave) continue;
                for (const Vec3& p : edge.polyline) border.points.push_back(piece.X_MP * p);
                if (border.points.size() < 2) continue;
                if (border.smooth && border.beyond >= 0) {
                    const space::Face& round = solid.faces[static_cast<std::size_t>(border.beyond)];
                    if (round.surface.kind == space::SurfaceKind::cylinder && round.surface.outside) {
                        Rounding rounding;
                        rounding.face = border.beyond;
                        rounding.on_axis = piece.X_MP * round.surface.point;
                        rounding.axis = piece.X_MP.turn(round.surface.axis).normalized();
                        rounding.radius_mm = round.surface.radius_mm;
                        for (const space::Loop& outline : round.loops) {
                            if (!outline.outer) continue;
                            for (const Vec3& p : outline.polyline) {
                                const Vec3 p_M = piece.X_MP * p;
                                rounding.outline.push_back(flat.in_plane(p_M));
                                flat.box.add(p_M);
                            }
                        }
                        if (rounding.outline.size() >= 3) flat.roundings.push_back(std::move(rounding));
                    }
                }
                flat.borders.push_back(std::move(border));
            }
        }
        if (!flat.rings.empty()) flats.push_back(std::move(flat));
    }
    return flats;
}

std::vector<Near> near_pairs(const std::vector<Aabb>& boxes, double gap_mm) {
    std::vector<std::size_t> order(boxes.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
        return std::make_pair(boxes[a].min.x(), a) < std::make_pair(boxes[b].min.x(), b);
    });
    std::vector<Near> pairs;
    for (std::size_t i = 0; i < order.size(); ++i) {
        for (std::size_t j = i + 1; j < order.size(); ++j) {
            if (boxes[order[j]].min.x() > boxes[order[i]].max.x() + gap_mm) break;
            if (boxes[order[i]].distance(boxes[order[j]]) <= gap_mm) {
                pairs.push_back({std::min(order[i], order[j]), std::max(order[i], order[j])});
            }
        }
    }
    std::sort(pairs.begin(), pairs.end());
    return pairs;
}

Aabb box_M(const Piece& piece) {
    Aabb box;
    for (const Vec3& p : piece.solid->mesh.points) box.add(piece.X_MP * p);
    return box;
}

namespace {

double distance_to_border(const Flat& flat, const Vec2& q) {
    double least = std::numeric_limits<double>::infinity();
    for (const Polygon2& ring : flat.rings) {
        for (std::size_t i = 0; i < ring.size(); ++i) {
            const Vec2 from = ring[i];
            const Vec2 along = ring[(i + 1) % ring.size()] - from;
            const double t =
                along.squaredNorm() > 0 ? std::clamp((q - from).dot(along) / along.squaredNorm(), 0.0, 1.0) : 0;
            least = std::min(least, (q - from - t * along).norm());
        }
    }
    return least;
}

std::optional<Vec3> pierced(const Piece& edges_of, const std::vector<Flat>& flats) {
    // Meshes of round faces are off by their deflection on either side.
    constexpr double depth = 2 * mesh_deflection_mm + back_off_mm;
    for (const space::Edge& edge : edges_of.solid->edges) {
        for (std::size_t i = 0; i + 1 < edge.polyline.size(); ++i) {
            const Vec3 from = edges_of.X_MP * edge.polyline[i];
            const Vec3 to = edges_of.X_MP * edge.polyline[i + 1];
            for (const Flat& flat : flats) {
                const double h0 = flat.height(from);
                const double h1 = flat.height(to);
                if (std::min(h0, h1) > -depth || std::max(h0, h1) < depth) continue;
                const Vec3 at = from + (to - from) * (h0 / (h0 - h1));
                const Vec2 q = flat.in_plane(at);
                if (flat.covers(q) && distance_to_border(flat, q) > depth) return at;
            }
        }
    }
    return std::nullopt;
}

}  // namespace

std::vector<Overlap> find_overlaps(const std::vector<Piece>& pieces, const base::Progress& job) {
    std::vector<Aabb> boxes;
    std::vector<std::vector<Flat>> flats;
    for (const Piece& piece : pieces) {
        if (job.cancelled()) return {};
        boxes.push_back(box_M(piece));
        flats.push_back(flats_of(piece));
    }
    std::vector<Overlap> overlaps;
    for (const Near& pair : near_pairs(boxes, 0)) {
        if (job.cancelled()) return overlaps;
        std::optional<Vec3> at = pierced(pieces[pair.a], flats[pair.b]);
        if (!at) at = pierced(pieces[pair.b], flats[pair.a]);
        if (at) overlaps.push_back({pieces[pair.a].id, pieces[pair.b].id, *at});
    }
    return overlaps;
}

}  // namespace setwright::weldment
