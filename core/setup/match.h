#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "core/setup/setup.h"

/// Ids are given once: what a later reading of the model finds is matched to what the job already knows.
namespace setwright::setup {

/// Writes down the ids, fingerprints and P frames of a model read for the first time.
void freeze(WeldmentUse& use, const weldment::Weldment& model);

struct Matched {
    /// Known to the job but not found any more.
    std::size_t pieces_gone = 0, seams_gone = 0;
    /// Found for the first time: they got new ids and are frozen now.
    std::size_t pieces_new = 0, seams_new = 0;
};

/// Gives the pieces and seams of `model` the ids of `use` and puts each piece into its frozen P. Equal readings match
/// in order; the rest by minimum-cost assignment over fingerprints. New ones take ids after `last_id`. The model comes
/// out sorted by id.
Matched match_to_frozen(WeldmentUse& use, weldment::Weldment& model, std::uint32_t& last_id);

/// Minimum-cost assignment of rows to columns; costs row by row, `columns` at least the number of rows. Gives the
/// column of each row. O(rows² · columns).
std::vector<std::size_t> assign(const std::vector<std::vector<double>>& cost, std::size_t columns);

}  // namespace setwright::setup
