#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/setup/setup.h"

namespace setwright::check {

using setup::PieceId;
using setup::PlacementId;
using setup::SeamId;
using setup::StageId;

/// not_run is never shown as pass.
enum class Verdict { pass, warn, fail, not_run, cancelled };
const char* key(Verdict verdict);

using Subject = std::variant<PieceId, PlacementId, SeamId, shop::Hole, std::string>;

/// One plain answer of one rule.
struct Finding {
    /// "clearance.piece", "locating.free", "seat.hole", "shelf.short", …
    std::string rule;
    Verdict verdict = Verdict::not_run;
    StageId stage;
    std::vector<Subject> subjects;
    std::optional<double> measured;
    std::optional<double> limit;
    /// "mm", "deg", "" (a count).
    std::string unit;
    std::optional<space::Vec3> at_T;
    base::Text text;
    base::Text cure;
    /// Accepted by the user in the job, still the same: shown, not counted as failed.
    bool accepted = false;
};

/// Puts a finding at the end of `findings` and returns it to be filled in, good until the next is put there.
Finding& add_finding(std::vector<Finding>& findings, StageId stage, std::string rule, Verdict verdict, base::Text text);

}  // namespace setwright::check
