#pragma once

#include <map>
#include <vector>

#include "core/base/progress.h"
#include "core/check/clearance.h"
#include "core/check/locating.h"

namespace setwright::check {

struct StageReport {
    StageId stage;
    std::vector<setup::Posed> posed;
    std::vector<Contact> contacts;
    ClearanceReport clearance;
};

/// Every rule of every stage. Rules not built yet are there as not_run.
struct Report {
    std::vector<StageReport> stages;
    /// Worst first: fail, warn, not_run, cancelled, pass; then stage, rule, subjects.
    std::vector<Finding> findings;
    /// Faces that are meant to be located: touched exactly (within limits::exact_face_mm without a note) / all.
    int exact_faces = 0;
    int faces = 0;

    /// True where any finding fails that the user has not accepted.
    bool failed() const;
};

Report check(const setup::Setup& setup, const base::Progress& job = {});

/// As setup::Accepted names who a finding is about: "piece 3", "placement 7", "seam 2", "hole 4,0" (column, row from
/// 0), or the name itself.
std::string subject_key(const Subject& subject);

/// seat.*: seats that are none, holes taken twice, seats that need a tape.
std::vector<Finding> check_seats(const setup::Setup& setup, const setup::Stage& stage);
/// shelf.*: counts used against the shelf (plates, packers, bolts, dowels, hands), with what is short.
struct PickLine {
    std::string stock_id;
    int need = 0;
    int have = 0;
    bool to_cut = false;
};
/// Over all stages together a component is needed as often as in the stage that needs most. By stock_id, hands apart.
std::vector<PickLine> pick_list(const setup::Setup& setup);
std::vector<Finding> check_shelf(const setup::Setup& setup);
/// As a fitter calls it: family and size.
base::Text component_name(const shop::Component& component);
/// The same for anything the shelf counts (plates, bolts, dowels, hands); what the job does not know keeps its id.
base::Text stock_name(const setup::Setup& setup, const std::string& stock_id);

}  // namespace setwright::check
