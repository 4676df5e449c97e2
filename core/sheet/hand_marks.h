#pragma once

#include <optional>
#include <vector>

#include "core/check/report.h"

/// Where a piece that is held by hand stands to what it touches, as a fitter reads it off a rule.
namespace setwright::sheet {

using space::Vec3;

/// One reading along one direction. Extents are those of the meshes: exact for flat faces, within
/// limits::mesh_deflection_mm for round ones.
struct Mark {
    /// edge: one outermost edge of the piece against one of the neighbour. around: the piece covers the neighbour.
    /// line: an edge of the piece against a line of holes. over_table: its underside over the table top.
    enum class Kind { edge, around, line, over_table } kind = Kind::edge;
    /// In T; looks up, else north, else east.
    Vec3 axis_T = Vec3::UnitX();
    /// Which edge of the piece, and of the neighbour: +1 the one towards `axis_T`.
    int side = 1;
    int other_side = 1;
    /// Of the piece's edge from the neighbour's edge (from the line of holes, the table top), along `axis_T`.
    double offset_mm = 0;
    /// edge: its opposite edges are as far apart, mirrored.
    bool centred = false;
    /// around: how far the piece sticks out against and along `axis_T`.
    double low_mm = 0, high_mm = 0;
    /// line: column for an axis along the numbers, row along the letters; from 0.
    int index = 0;
    /// Where both edges lie along `axis_T`.
    double at_T_mm = 0, other_T_mm = 0;
};

/// Round hole in a plate, by its centre.
struct HoleMark {
    double diameter_mm = 0;
    std::vector<Mark> marks;
};

struct HandMarks {
    setup::PieceId piece;
    struct Neighbour {
        setup::PieceId piece;
        /// Into the held piece. Square to one of its sides where `flat`; else a slanting cut.
        Vec3 normal_T = Vec3::UnitZ();
        bool flat = true;
        std::vector<Vec3> patch_T;
        std::vector<Mark> marks;
        std::vector<HoleMark> holes;
    };
    /// By piece: those that give a mark, and those that lie there first and are met square on.
    std::vector<Neighbour> neighbours;
    /// By number on the drawing.
    std::vector<setup::PlacementId> rests_on, stands_against;
    /// Directions that no piece and no block fixes.
    std::vector<Mark> on_table;
};

/// Every piece of the stage that is held by hand, in the order of loading. Directions that a block fixes are left out;
/// of several neighbours the one with the nearest edge gives the mark. Held by HandMarks.* tests.
std::vector<HandMarks> hand_marks(const setup::Setup& setup, const setup::Stage& stage,
                                  const check::StageReport& report);

/// Least and greatest of the piece along a direction of T.
std::optional<std::pair<double, double>> extent_T(const setup::Setup& setup, const setup::Stage& stage,
                                                  setup::PieceId piece, const Vec3& axis_T);

}  // namespace setwright::sheet
