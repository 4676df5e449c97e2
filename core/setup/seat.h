#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "core/shop/component.h"
#include "core/shop/table.h"
#include "core/weldment/piece.h"

namespace setwright::setup {

using PlacementId = base::Id<struct PlacementTag>;
using weldment::FaceKey;
using weldment::PieceId;

/// What a component is mounted on.
struct Host {
    enum class Kind { table, placement, piece, pieces, floor } kind = Kind::table;
    PlacementId placement;
    /// GridFace::id of the host placement.
    std::string face;
    /// piece: one entry; pieces (a loose bar or clamp across two): two.
    std::vector<PieceId> pieces;
    std::vector<FaceKey> piece_faces;
    /// Floor stand: beside which edge of the table.
    shop::TableSide side = shop::TableSide::south;
    friend bool operator==(const Host&, const Host&) = default;
};

struct Packer {
    enum class Where { under, face } where = Where::under;
    /// Component id of a packer on the shelf.
    std::string component;
    double thickness_mm = 0;
    friend bool operator==(const Packer&, const Packer&) = default;
};

/// One complete, fixed way to sit; integers only, the pose is derived.
///
/// On a host with holes: X_TC = X_TH · Trans(col·pitch_x, row·pitch_y, packers under) · Rz(atan2(q·pitch_y,
/// p·pitch_x)). On a host without holes: along and across in tenths of a millimetre from the face's named edges, turn
/// in 15° steps.
struct Seat {
    Host host;
    shop::Hole hole;
    /// Turn as a lattice vector (p, q): the way C's x looks, east = (1, 0). (0, 0): `turn_15deg` counts instead.
    std::array<int, 2> turn{1, 0};
    int turn_15deg = 0;
    shop::Hand hand = shop::Hand::none;
    /// Plate::id, "" where there is none.
    std::string plate;
    /// In marks.
    int setting = 0;
    std::vector<Packer> packers;
    std::int32_t along_tenths = 0;
    std::int32_t across_tenths = 0;
    friend bool operator==(const Seat&, const Seat&) = default;
};

}  // namespace setwright::setup
