#pragma once

#include <vector>

#include "core/base/progress.h"
#include "core/weldment/piece.h"

namespace setwright::weldment {

/// One closed or open run of an edge of a flat face. In M.
struct Border {
    std::vector<space::Vec3> points;
    /// Index of the face on the other side of the edge, -1 none.
    int beyond = -1;
    bool smooth = false;
};

/// Corner radius that continues a flat face. In M; `outline` in the flat face's own plane.
struct Rounding {
    int face = -1;
    space::Vec3 on_axis;
    space::Vec3 axis;
    double radius_mm = 0;
    space::Polygon2 outline;
};

/// A plane face of a piece made ready to be met by other pieces. In M.
struct Flat {
    int face = -1;
    space::Vec3 point;
    /// Out of the material.
    space::Vec3 normal;
    /// In the plane, right-handed with the normal.
    space::Vec3 u, v;
    space::Aabb box;
    std::vector<space::Polygon2> rings;
    std::size_t outer_ring = 0;
    /// Edges of the outer loop.
    std::vector<Border> borders;
    std::vector<Rounding> roundings;

    space::Vec2 in_plane(const space::Vec3& p) const { return {(p - point).dot(u), (p - point).dot(v)}; }
    /// Along the normal, positive outside the material.
    double height(const space::Vec3& p) const { return (p - point).dot(normal); }
    bool covers(const space::Vec2& q) const;
    /// Rounding over which q lies; null where q is over none.
    const Rounding* rounding_at(const space::Vec2& q) const;
    /// How far the rounding falls below the plane at q.
    double drop(const Rounding& rounding, const space::Vec2& q) const;
};

/// Plane faces of a piece, in the order of its solid.
std::vector<Flat> flats_of(const Piece& piece);

/// Two pieces whose boxes come within `gap_mm`: indices into the list, a < b, in order.
struct Near {
    std::size_t a = 0;
    std::size_t b = 0;
    friend auto operator<=>(const Near&, const Near&) = default;
};
std::vector<Near> near_pairs(const std::vector<space::Aabb>& boxes, double gap_mm);

/// Box of the piece in M, no larger than needed.
space::Aabb box_M(const Piece& piece);

struct Overlap {
    PieceId a;
    PieceId b;
    space::Vec3 at_M = space::Vec3::Zero();
};

/// Pairs of which one's edge runs through the other's plane face, deeper than meshes can mislead: quick, not exact.
/// Bodies that only pass through round faces are not found.
std::vector<Overlap> find_overlaps(const std::vector<Piece>& pieces, const base::Progress& job = {});

}  // namespace setwright::weldment
