#pragma once

namespace setwright::weldment {

enum class EndKind { square, mitre, compound, cope, notch, other };

struct EndCut {
    EndKind kind = EndKind::other;
    /// From square: 0 for a square cut.
    double angle_deg = 0;
    /// Where the long point is, as a turn about P's z from +x: direction in which the cut plane leans, 0 to 360.
    double plane_deg = 0;
    /// Compound cuts: the second angle, from square, in the plane across the first.
    double second_angle_deg = 0;
    /// Face of the piece's solid; -1 where the end is not one plane.
    int face = -1;
};

const char* key(EndKind kind);

}  // namespace setwright::weldment
