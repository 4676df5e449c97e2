#pragma once

#include <array>

#include "core/space/solid.h"
#include "core/weldment/section.h"

namespace setwright::weldment {

enum class EndKind { square, mitre, compound, cope, notch, other };

struct EndCut {
    EndKind kind = EndKind::other;
    /// From square: 0 for a square cut. Compound cuts: the larger of the two angles marked on neighbouring faces.
    double angle_deg = 0;
    /// Where the long point is, as a turn about P's z from +x: direction in which the cut plane leans, 0 to 360
    /// (compound cuts: of the steepest line, so no multiple of 90).
    double plane_deg = 0;
    /// Compound cuts: the second angle, from square, as marked on the face beside the first.
    double second_angle_deg = 0;
    /// Face of the piece's solid; -1 where the end is not one plane.
    int face = -1;
};

const char* key(EndKind kind);

/// How the piece's two end planes lie to each other. Trapezoid: long points on one side (or one end square);
/// parallelogram: on opposite sides; twisted: the planes lean about different lines.
enum class PieceShape { straight, trapezoid, parallelogram, twisted };

struct Ends {
    /// End 0 at the low z, end 1 at the high z.
    std::array<EndCut, 2> cuts;
    PieceShape shape = PieceShape::straight;
    /// Extent along z from tip to tip.
    double length_mm = 0;
    /// The longest, the shortest and the middle line from end plane to end plane along z. A parallelogram's long and
    /// short points are equal, its tip-to-tip length is larger.
    double long_point_mm = 0;
    double short_point_mm = 0;
    double centre_mm = 0;
};

/// `solid` in P. Where an end is not one plane across the whole section it is "other" and its extent counts.
Ends find_ends(const space::Solid& solid, const Section& section);

}  // namespace setwright::weldment
