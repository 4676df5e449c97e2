#include "core/check/clearance.h"

#include <algorithm>
#include <map>

#include "core/base/limits.h"
#include "core/check/bodies.h"

namespace setwright::check {

namespace limits = base::limits;
using base::Text;
using space::Pose;
using space::ProximityBody;
using space::Vec3;

namespace {

class StageClearance {
  public:
    StageClearance(const setup::Setup& setup, const setup::Stage& stage, const std::vector<setup::Posed>& posed,
                   const std::vector<Contact>& contacts, const base::Progress& job)
        : setup_(setup), stage_(stage), posed_(posed), contacts_(contacts), job_(job) {}

    ClearanceReport run() {
        prepare();
        const std::size_t all = standing_.size() + 1;
        for (std::size_t i = 0; i < standing_.size() && !job_.cancelled(); ++i) {
            for (const Lying& piece : lying_) against_piece(standing_[i], piece);
            for (std::size_t k = 0; k < i; ++k) against_placement(standing_[i], standing_[k]);
            job_.report(static_cast<double>(i + 1) / static_cast<double>(all));
        }
        if (!job_.cancelled()) against_table();
        if (job_.cancelled()) {
            for (const char* rule : {piece_rule, moving_rule, component_rule, table_rule}) {
                add(rule, Verdict::cancelled, {"clearance.cancelled", {}});
            }
        } else {
            say_what_passed();
        }
        std::stable_sort(report_.nearest.begin(), report_.nearest.end(), [](const Clearance& a, const Clearance& b) {
            return a.placement != b.placement ? a.placement < b.placement : a.other < b.other;
        });
        return std::move(report_);
    }

  private:
    static constexpr const char* piece_rule = "clearance.piece";
    static constexpr const char* moving_rule = "clearance.moving";
    static constexpr const char* component_rule = "clearance.component";
    static constexpr const char* table_rule = "clearance.table";
    static constexpr const char* collision_rule = "clearance.collision";

    void prepare() {
        StandingMaker maker;
        for (const setup::Posed& posed : posed_) {
            const setup::Placement* placement = stage_.find(posed.id);
            if (placement == nullptr || job_.cancelled()) continue;
            standing_.push_back(maker.make(setup_, *placement, posed));
        }
        std::sort(standing_.begin(), standing_.end(),
                  [](const Standing& a, const Standing& b) { return a.placement->id < b.placement->id; });
        lying_ = lying_pieces(setup_, stage_);
    }

    Finding& add(const char* rule, Verdict verdict, Text text) {
        return add_finding(report_.findings, stage_.id, rule, verdict, std::move(text));
    }

    static std::vector<Text> name(const Standing& standing) {
        return {{"name.block", {{"no", std::int64_t{standing.placement->no}}}}};
    }
    std::vector<Text> name(const Lying& piece) const {
        return {{"name.piece", {{"name", setup_.piece_name(piece.id)}}}};
    }

    bool comes_down_on(const Standing& standing, const Lying& piece) {
        if (!standing.component->clamp) return false;
        if (!near_) {
            double reach_mm = limits::contact_mm;
            for (const Standing& other : standing_) reach_mm = std::max(reach_mm, reach_of_pads(other));
            near_ = contacts_within(setup_, stage_, posed_, reach_mm);
        }
        return presses(*near_, standing, piece);
    }

    void collision(const Standing& standing, const Lying& piece, const Vec3& at) {
        Finding& finding = add(collision_rule, Verdict::fail,
                               {"clearance.collision", {{"block", name(standing)}, {"other", name(piece)}}});
        finding.subjects = {standing.placement->id, piece.id};
        finding.measured = 0;
        finding.limit = setup_.limits.clearance_piece_mm;
        finding.unit = "mm";
        finding.at_T = at;
    }

    /// Two that touch by design are not "0 mm apart".
    void by_design(PlacementId placement, Subject other, bool overlap) {
        Clearance clearance;
        clearance.placement = placement;
        clearance.other = std::move(other);
        clearance.overlap = overlap;
        clearance.by_design = true;
        report_.nearest.push_back(std::move(clearance));
    }

    void against_piece(const Standing& standing, const Lying& piece) {
        if (standing.box_T.distance(piece.box_T) > limits::clearance_horizon_mm) return;
        if (const auto touching = touch(setup_, stage_, contacts_, standing, piece)) {
            const Hit hit = hit_beyond_touch(standing, piece, *touching);
            by_design(standing.placement->id, piece.id, hit.kind == Hit::Kind::overlap);
            if (hit.kind == Hit::Kind::overlap) collision(standing, piece, hit.at_T);
            if (hit.kind == Hit::Kind::not_computed) {
                Finding& finding = add(collision_rule, Verdict::not_run,
                                       {"clearance.not_computed", {{"block", name(standing)}, {"other", name(piece)}}});
                finding.subjects = {standing.placement->id, piece.id};
                finding.at_T = hit.at_T;
            } else {
                ++judged_;
            }
            return;
        }
        const bool meant = comes_down_on(standing, piece);
        bool collided = false;
        std::optional<Clearance> nearest;
        for (const bool is_moving : {false, true}) {
            const auto& body = is_moving ? standing.bodies.moving : standing.bodies.fixed;
            if (!body) continue;
            const auto found =
                space::separation(*body, standing.posed->X_TC, *piece.body, piece.X_TP, limits::clearance_horizon_mm);
            if (!found || (meant && is_moving && !found->overlap)) continue;
            if (!nearest || found->distance_mm < nearest->distance_mm) {
                nearest = {standing.placement->id,
                           piece.id,
                           found->distance_mm,
                           found->overlap,
                           false,
                           found->on_a,
                           found->on_b};
            }
            if (found->overlap) {
                if (!collided) collision(standing, piece, found->on_a);
                collided = true;
                continue;
            }
            const double limit = is_moving ? setup_.limits.clearance_moving_mm : setup_.limits.clearance_piece_mm;
            judge(is_moving, standing, piece, *found, limit);
        }
        if (nearest) report_.nearest.push_back(*nearest);
    }

    void judge(bool is_moving, const Standing& standing, const Lying& piece, const space::Separation& found,
               double limit) {
        const char* rule = is_moving ? moving_rule : piece_rule;
        note_least(rule, found.distance_mm);
        // Set exactly at the limit is good: the float noise of a sum of whole numbers must not decide.
        if (found.distance_mm >= limit - limits::coincident_mm) return;
        Finding& finding = add(rule, Verdict::fail,
                               {is_moving ? "clearance.near_moving" : "clearance.near_piece",
                                {{"block", name(standing)},
                                 {"other", name(piece)},
                                 {"measured", base::LengthArg{found.distance_mm}},
                                 {"limit", base::LengthArg{limit}}}});
        finding.subjects = {standing.placement->id, piece.id};
        finding.measured = found.distance_mm;
        finding.limit = limit;
        finding.unit = "mm";
        finding.at_T = (found.on_a + found.on_b) / 2;
    }

    void against_placement(const Standing& one, const Standing& other) {
        if (one.box_T.distance(other.box_T) > limits::clearance_horizon_mm) return;
        const Pose& X_TA = one.posed->X_TC;
        const Pose& X_TB = other.posed->X_TC;
        std::optional<Clearance> nearest;
        std::optional<Vec3> hit;
        for (const auto& a : {one.bodies.fixed, one.bodies.moving}) {
            for (const auto& b : {other.bodies.fixed, other.bodies.moving}) {
                if (!a || !b) continue;
                const auto found = space::separation(*a, X_TA, *b, X_TB, limits::clearance_horizon_mm);
                if (!found) continue;
                if (found->overlap && !hit && stays_overlapped(*a, X_TA, *b, X_TB)) hit = found->on_a;
                if (nearest && nearest->distance_mm <= found->distance_mm) continue;
                nearest = {one.placement->id, other.placement->id, found->distance_mm, false, false,
                           found->on_a,       found->on_b};
            }
        }
        if (!nearest) return;
        if (is_guest_and_host(*one.placement, *other.placement)) {
            by_design(one.placement->id, other.placement->id, hit.has_value());
            by_design(other.placement->id, one.placement->id, hit.has_value());
        } else {
            nearest->overlap = hit.has_value();
            report_.nearest.push_back(*nearest);
            std::swap(nearest->placement, *std::get_if<PlacementId>(&nearest->other));
            std::swap(nearest->on_placement_T, nearest->on_other_T);
            report_.nearest.push_back(*nearest);
            note_least(component_rule, nearest->distance_mm);
        }
        if (!hit) return;
        Finding& finding = add(component_rule, Verdict::fail,
                               {"clearance.components", {{"block", name(other)}, {"other", name(one)}}});
        finding.subjects = {other.placement->id, one.placement->id};
        finding.measured = 0;
        finding.limit = 0;
        finding.unit = "mm";
        finding.at_T = *hit;
    }

    void against_table() {
        const ProximityBody plate(plate_mesh(setup_.table));
        for (const Lying& piece : lying_) {
            double lowest = std::numeric_limits<double>::infinity();
            for (const Vec3& p : piece.piece->solid->mesh.points) lowest = std::min(lowest, (piece.X_TP * p).z());
            note_least(table_rule, lowest);
            if (lowest >= -limits::contact_mm) continue;
            // Beyond the edges of the table a piece may hang down.
            const auto found =
                space::separation(*piece.body, Pose::move(0, 0, limits::back_off_mm) * piece.X_TP, plate, Pose(), 0);
            if (!found || !found->overlap) continue;
            Finding& finding =
                add(table_rule, Verdict::fail,
                    {"clearance.below_table", {{"piece", name(piece)}, {"measured", base::LengthArg{-lowest}}}});
            finding.subjects = {piece.id};
            finding.measured = lowest;
            finding.limit = 0;
            finding.unit = "mm";
            finding.at_T = found->on_a;
        }
        for (const Standing& standing : standing_) {
            const auto at_T = inside_plate(standing, plate);
            if (!at_T) continue;
            Finding& finding = add(table_rule, Verdict::fail, {"clearance.in_table", {{"block", name(standing)}}});
            finding.subjects = {standing.placement->id};
            finding.measured = standing.box_T.min.z();
            finding.limit = 0;
            finding.unit = "mm";
            finding.at_T = at_T;
        }
    }

    void note_least(const char* rule, double distance_mm) {
        auto [least, first] = least_.try_emplace(rule, distance_mm);
        if (!first) least->second = std::min(least->second, distance_mm);
    }

    /// Placements of which nobody knows where they stand: nothing was tested against them.
    std::vector<const setup::Placement*> not_posed() const {
        std::vector<const setup::Placement*> out;
        for (const setup::Placement& placement : stage_.placements) {
            const bool posed =
                std::any_of(posed_.begin(), posed_.end(), [&](const setup::Posed& p) { return p.id == placement.id; });
            if (!posed) out.push_back(&placement);
        }
        return out;
    }

    void say_what_passed() {
        const auto said = [&](const char* rule) {
            return std::any_of(report_.findings.begin(), report_.findings.end(),
                               [&](const Finding& f) { return f.rule == rule; });
        };
        if (const auto missing = not_posed(); !missing.empty()) {
            std::vector<Text> blocks;
            std::vector<Subject> subjects;
            for (const setup::Placement* placement : missing) {
                blocks.push_back({"name.block", {{"no", std::int64_t{placement->no}}}});
                subjects.emplace_back(placement->id);
            }
            for (const char* rule : {piece_rule, moving_rule, component_rule, table_rule, collision_rule}) {
                if (!said(rule))
                    add(rule, Verdict::not_run, {"clearance.not_placed", {{"blocks", blocks}}}).subjects = subjects;
            }
            return;
        }
        const auto pass = [&](const char* rule, const char* near, const char* far, std::optional<double> limit) {
            if (said(rule)) return;
            const auto least = least_.find(rule);
            Text text{far, {{"horizon", base::LengthArg{limits::clearance_horizon_mm}}}};
            if (least != least_.end()) text = {near, {{"measured", base::LengthArg{least->second}}}};
            Finding& finding = add(rule, Verdict::pass, std::move(text));
            if (least != least_.end()) finding.measured = least->second;
            finding.limit = limit;
            finding.unit = "mm";
        };
        pass(piece_rule, "clearance.pass_piece", "clearance.pass_piece_far", setup_.limits.clearance_piece_mm);
        pass(moving_rule, "clearance.pass_moving", "clearance.pass_moving_far", setup_.limits.clearance_moving_mm);
        pass(component_rule, "clearance.pass_component", "clearance.pass_component_far", 0);
        pass(table_rule, "clearance.pass_table", "clearance.pass_table_empty", 0);
        if (!said(collision_rule)) {
            add(collision_rule, Verdict::pass, {"clearance.pass_collision", {{"n", std::int64_t{judged_}}}}).measured =
                judged_;
        }
    }

    const setup::Setup& setup_;
    const setup::Stage& stage_;
    const std::vector<setup::Posed>& posed_;
    const std::vector<Contact>& contacts_;
    base::Progress job_;
    std::vector<Standing> standing_;
    std::vector<Lying> lying_;
    /// Contacts within the longest stroke of a clamp, found when first asked for.
    std::optional<std::vector<Contact>> near_;
    std::map<std::string, double> least_;
    /// Pairs that touch by design and were tested backed off.
    int judged_ = 0;
    ClearanceReport report_;
};

}  // namespace

ClearanceReport check_clearance(const setup::Setup& setup, const setup::Stage& stage,
                                const std::vector<setup::Posed>& posed, const std::vector<Contact>& contacts,
                                const base::Progress& job) {
    return StageClearance(setup, stage, posed, contacts, job).run();
}

}  // namespace setwright::check
