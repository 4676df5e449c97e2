#pragma once

#include <memory>
#include <vector>

#include "core/base/progress.h"
#include "core/check/contact.h"

namespace setwright::check {

/// Distance of one placement to one other thing.
struct Clearance {
    PlacementId placement;
    /// A piece, another placement, or the table ("table").
    Subject other;
    double distance_mm = 0;
    bool overlap = false;
    /// They touch by design, or one stands on the other: no distance was looked for.
    bool by_design = false;
    space::Vec3 on_placement_T = space::Vec3::Zero();
    space::Vec3 on_other_T = space::Vec3::Zero();
};

/// Findings clearance.*: every component against pieces, components and the table, and pieces against the table (design
/// limits; recognised contacts are tested again backed off). Sorted by placement, then other. A placement that is not
/// among `posed` makes rules not_run that would have passed.
struct ClearanceReport {
    std::vector<Clearance> nearest;
    std::vector<Finding> findings;
};
ClearanceReport check_clearance(const setup::Setup& setup, const setup::Stage& stage,
                                const std::vector<setup::Posed>& posed, const std::vector<Contact>& contacts,
                                const base::Progress& job = {});

}  // namespace setwright::check
