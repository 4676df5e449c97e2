#include "core/check/report.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

#include "core/base/limits.h"

namespace setwright::check {

namespace limits = base::limits;

namespace {

/// Rules that are announced and not built yet.
constexpr const char* unbuilt_rules[] = {"float.section",         "heat.shrink", "holding.forces", "loop.order",
                                         "mistakes.one_hole_off", "reach.tack",  "reach.weld",     "release.lift"};

int place_in_report(Verdict verdict) {
    switch (verdict) {
        case Verdict::fail:
            return 0;
        case Verdict::warn:
            return 1;
        case Verdict::not_run:
            return 2;
        case Verdict::cancelled:
            return 3;
        case Verdict::pass:
            return 4;
    }
    return 4;
}

bool still_accepted(const setup::Setup& setup, const Finding& finding) {
    std::vector<std::string> subjects;
    if (finding.stage.valid()) subjects.push_back("stage " + std::to_string(finding.stage.value));
    for (const Subject& subject : finding.subjects) subjects.push_back(subject_key(subject));
    return std::any_of(setup.accepted.begin(), setup.accepted.end(), [&](const setup::Accepted& accepted) {
        return accepted.rule == finding.rule && accepted.subjects == subjects &&
               std::abs(accepted.measured - finding.measured.value_or(0)) <= limits::same_measure;
    });
}

/// Faces that are meant to meet a piece, by the nearest piece in front of each.
void count_faces(const setup::Setup& setup, const setup::Stage& stage, const std::vector<setup::Posed>& posed,
                 Report& report) {
    std::map<std::pair<PlacementId, std::string>, double> gaps;
    for (const Contact& contact : contacts_within(setup, stage, posed, limits::meant_face_mm)) {
        if (!contact.placement || !contact.locates) continue;
        const double gap = std::abs(contact.gap_mm);
        const auto [it, first] = gaps.try_emplace({*contact.placement, contact.locating_face}, gap);
        if (!first) it->second = std::min(it->second, gap);
    }
    report.faces += static_cast<int>(gaps.size());
    report.exact_faces += static_cast<int>(std::count_if(
        gaps.begin(), gaps.end(), [](const auto& entry) { return entry.second <= limits::exact_face_mm; }));
}

/// A piece that no stage loads is not checked at all: that is a fault of the job, not a pass.
std::vector<Finding> check_loaded(const setup::Setup& setup) {
    std::vector<Finding> findings;
    const auto fault = [&](base::Text text) -> Finding& {
        return add_finding(findings, {}, "locating.loaded", Verdict::fail, std::move(text));
    };
    std::set<PieceId> listed, shaped;
    for (const setup::Stage& stage : setup.stages) {
        listed.insert(stage.pieces.begin(), stage.pieces.end());
        for (const LaidBody& body : laid_bodies(setup, stage)) shaped.insert(body.pieces.begin(), body.pieces.end());
        if (stage.pieces.empty() && stage.earlier.empty())
            fault({"locating.empty_stage", {{"stage", stage.name}}}).stage = stage.id;
    }
    if (setup.stages.empty()) fault({"locating.no_stage", {}});
    std::set<PieceId> all = listed, left_out;
    for (const setup::WeldmentUse& use : setup.weldments) {
        if (use.model)
            for (const weldment::Piece& piece : use.model->pieces) all.insert(piece.id);
        for (const setup::DrawnPiece& piece : use.drawn) all.insert(piece.id);
        for (const auto& [id, edit] : use.piece_edits)
            if (edit.left_out) left_out.insert(id);
    }
    for (const PieceId id : all) {
        if (left_out.contains(id) || shaped.contains(id)) continue;
        const char* why = listed.contains(id) ? "locating.no_shape" : "locating.not_loaded";
        fault({why, {{"piece", setup.piece_name(id)}}}).subjects = {id};
    }
    return findings;
}

}  // namespace

std::string subject_key(const Subject& subject) {
    struct Name {
        std::string operator()(PieceId id) const { return "piece " + std::to_string(id.value); }
        std::string operator()(PlacementId id) const { return "placement " + std::to_string(id.value); }
        std::string operator()(SeamId id) const { return "seam " + std::to_string(id.value); }
        std::string operator()(const shop::Hole& hole) const {
            return "hole " + std::to_string(hole.col) + "," + std::to_string(hole.row);
        }
        std::string operator()(const std::string& name) const { return name; }
    };
    return std::visit(Name{}, subject);
}

bool Report::failed() const {
    return std::any_of(findings.begin(), findings.end(),
                       [](const Finding& f) { return f.verdict == Verdict::fail && !f.accepted; });
}

Report check(const setup::Setup& setup, const base::Progress& job) {
    Report report;
    const auto add = [&](std::vector<Finding> found) {
        report.findings.insert(report.findings.end(), std::make_move_iterator(found.begin()),
                               std::make_move_iterator(found.end()));
    };
    double done = 0;
    for (const setup::Stage& stage : setup.stages) {
        StageReport part;
        part.stage = stage.id;
        add(check_seats(setup, stage));
        for (const setup::Placement& placement : stage.placements) {
            if (auto posed = setup::pose(setup, stage, placement)) part.posed.push_back(std::move(*posed));
        }
        std::sort(part.posed.begin(), part.posed.end(),
                  [](const setup::Posed& a, const setup::Posed& b) { return a.id < b.id; });
        if (job.cancelled()) {
            add_finding(report.findings, stage.id, "locating.piece", Verdict::cancelled, {"locating.cancelled", {}});
        } else {
            part.contacts = contacts(setup, stage, part.posed);
            add(check_locating(setup, stage, part.posed, part.contacts));
            count_faces(setup, stage, part.posed, report);
        }
        part.clearance = check_clearance(setup, stage, part.posed, part.contacts, job);
        add(part.clearance.findings);
        report.stages.push_back(std::move(part));
        job.report(++done / static_cast<double>(setup.stages.size()));
    }
    add(check_loaded(setup));
    add(check_shelf(setup));
    for (const char* rule : unbuilt_rules) {
        add_finding(report.findings, {}, rule, Verdict::not_run,
                    {"check.not_built", {{"what", std::vector<base::Text>{{std::string("rule.") + rule, {}}}}}});
    }

    for (Finding& finding : report.findings) {
        const bool counts = finding.verdict == Verdict::fail || finding.verdict == Verdict::warn;
        finding.accepted = counts && still_accepted(setup, finding);
    }
    std::stable_sort(report.findings.begin(), report.findings.end(), [](const Finding& a, const Finding& b) {
        return std::tuple(place_in_report(a.verdict), a.stage, a.rule, a.subjects) <
               std::tuple(place_in_report(b.verdict), b.stage, b.rule, b.subjects);
    });
    return report;
}

}  // namespace setwright::check
