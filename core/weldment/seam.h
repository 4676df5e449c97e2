#pragma once

#include <array>
#include <optional>
#include <vector>

#include "core/weldment/piece.h"

namespace setwright::weldment {

using SeamId = base::Id<struct SeamTag>;

/// Told from the faces as modelled. Flush faces and outside corners count as square butts: a model without a prepared
/// edge has no v or bevel. Edge: an air angle too narrow or too flat for a fillet.
enum class SeamKind { fillet, square_butt, v, bevel, flare_bevel, flare_v, edge };

/// One weld line between two pieces. All in M. A tube's end gives one seam for each flat side it meets something with;
/// the corner arcs between them belong to no seam.
struct Seam {
    SeamId id;
    /// The piece whose end or edge makes the line first, then the piece it stands on.
    std::array<PieceId, 2> pieces;
    std::array<int, 2> faces{-1, -1};
    SeamKind kind = SeamKind::fillet;
    /// From the model; none: "size: as drawing".
    std::optional<double> size_mm;
    double length_mm = 0;
    /// Smallest distance from the root edge (a hollow section: where the inner wall ends; a solid one: the weld's own
    /// edge, over a corner radius where it stands nearest) to the other piece, measured square to the plane it stands
    /// on.
    double gap_mm = 0;
    std::vector<space::Vec3> path_M;
    /// Outward unit normals of both faces at the middle of the path; of a corner radius: where it comes nearest.
    space::Vec3 n1_M = space::Vec3::UnitZ();
    space::Vec3 n2_M = space::Vec3::UnitX();
    /// Air angle between the faces: 90 inside corner, 180 flush, 270 outside corner.
    double dihedral_deg = 90;
    std::vector<base::Text> doubts;
};

const char* key(SeamKind kind);

}  // namespace setwright::weldment
