#pragma once

#include <string>
#include <vector>

#include "core/space/bodies.h"
#include "core/weldment/piece.h"
#include "core/weldment/seam.h"

namespace setwright::weldment {

struct Group {
    int id = 0;
    int count = 0;
    /// Group that is its mirror image; 0 none.
    int mirror_of = 0;
};

/// The weldment as understood; immutable once made, shared by all copies of a job.
struct Weldment {
    std::vector<Piece> pieces;
    std::vector<Seam> seams;
    std::vector<Group> groups;
    /// Of the whole file: lost solids, unit doubts, loose faces.
    std::vector<base::Text> doubts;
    std::string file_unit;
    space::Aabb box_M;

    const Piece* find(PieceId id) const;
    const Seam* find(SeamId id) const;
};

/// Every body becomes a piece; what is not understood has section "other" and a doubt that says why. Ids are 1, 2, …
/// in the file's order.
Weldment recognise(const space::Bodies& bodies, const base::Progress& job = {});

/// Seams of pieces that meet within limits::seam_gap_mm (models: root gap from the inner wall's edge).
std::vector<Seam> find_seams(const std::vector<Piece>& pieces, const base::Progress& job = {});

}  // namespace setwright::weldment
