#include "core/check/clearance.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "core/base/limits.h"
#include "core/space/proximity.h"

namespace setwright::check {

namespace limits = base::limits;
using base::Text;
using space::Pose;
using space::ProximityBody;
using space::Vec3;

namespace {

struct Standing {
    const setup::Placement* placement = nullptr;
    const setup::Posed* posed = nullptr;
    const shop::Component* component = nullptr;
    std::shared_ptr<const ProximityBody> fixed, moving;
    space::Aabb box_T;
};

struct Lying {
    PieceId id;
    const weldment::Piece* piece = nullptr;
    Pose X_TP;
    std::shared_ptr<const ProximityBody> body;
};

/// A round face's mesh stands this far outside the true cylinder at its corners (space::cylinder_mesh, 24 sides).
double outside_of_mesh_mm(double diameter_mm) {
    constexpr double sides = 24;
    return diameter_mm / 2 * (1 / std::cos(std::numbers::pi / sides) - 1);
}

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
        // Same component, same choices: same bodies in C.
        std::map<std::string, std::pair<std::shared_ptr<const ProximityBody>, std::shared_ptr<const ProximityBody>>>
            made;
        const auto body_of = [](const std::vector<shop::BodyPart>& parts) -> std::shared_ptr<const ProximityBody> {
            if (parts.empty()) return nullptr;
            return std::make_shared<ProximityBody>(shop::mesh_of(parts));
        };
        for (const setup::Posed& posed : posed_) {
            const setup::Placement* placement = stage_.find(posed.id);
            if (placement == nullptr || job_.cancelled()) continue;
            const setup::Seat& seat = placement->seat;
            std::string choices = placement->component + '\n' + seat.plate + '\n' +
                                  std::to_string(static_cast<int>(seat.hand)) + '\n' + std::to_string(seat.setting);
            for (const setup::Packer& packer : seat.packers) {
                choices += '\n' + packer.component + '\n' + std::to_string(static_cast<int>(packer.where)) + '\n' +
                           base::number_text(packer.thickness_mm);
            }
            const auto [it, is_new] = made.try_emplace(choices);
            if (is_new) it->second = {body_of(posed.fixed), body_of(posed.moving)};
            Standing standing;
            standing.placement = placement;
            standing.posed = &posed;
            standing.component = setup_.find_component(placement->component);
            std::tie(standing.fixed, standing.moving) = it->second;
            for (const auto& body : {standing.fixed, standing.moving}) {
                if (body) standing.box_T.add(body->box().moved(posed.X_TC));
            }
            standing_.push_back(std::move(standing));
        }
        std::sort(standing_.begin(), standing_.end(),
                  [](const Standing& a, const Standing& b) { return a.placement->id < b.placement->id; });

        std::map<const space::Solid*, std::shared_ptr<const ProximityBody>> solids;
        for (const LaidBody& body : laid_bodies(setup_, stage_)) {
            for (const PieceId id : body.pieces) {
                const weldment::Piece* piece = setup_.find_piece(id);
                auto& made_body = solids[piece->solid.get()];
                if (!made_body) made_body = std::make_shared<ProximityBody>(piece->solid->mesh);
                lying_.push_back({id, piece, stage_.lay.X_TM * piece->X_MP, made_body});
            }
        }
        std::sort(lying_.begin(), lying_.end(), [](const Lying& a, const Lying& b) { return a.id < b.id; });
    }

    Finding& add(const char* rule, Verdict verdict, Text text) {
        Finding finding;
        finding.rule = rule;
        finding.verdict = verdict;
        finding.stage = stage_.id;
        finding.text = std::move(text);
        report_.findings.push_back(std::move(finding));
        return report_.findings.back();
    }

    static std::vector<Text> name(const Standing& standing) {
        return {{"name.block", {{"no", std::int64_t{standing.placement->no}}}}};
    }
    std::vector<Text> name(const Lying& piece) const {
        return {{"name.piece", {{"name", setup_.piece_name(piece.id)}}}};
    }

    /// Contact normals of the pair, each direction once; away = how far to back off along them.
    struct Touch {
        std::vector<Vec3> normals;
        double away_mm = limits::back_off_mm;
        /// A pin in a hole has no way out across its axis.
        bool in_hole = false;
        /// Volume that a pin may share with its hole where it stands off its axis by no more than a contact may.
        double allowed_mm3 = limits::overlap_mm3;
        Vec3 back_off() const {
            Vec3 sum = Vec3::Zero();
            for (const Vec3& n : normals) sum -= n;
            return sum * away_mm;
        }
        /// Grips from both sides: no way out that frees every contact.
        bool grips() const {
            if (in_hole) return true;
            const Vec3 out = back_off();
            return std::any_of(normals.begin(), normals.end(),
                               [&](const Vec3& n) { return n.dot(out) > -away_mm / 2; });
        }
    };
    std::optional<Touch> touch(const Standing& standing, const Lying& piece) const {
        Touch touch;
        const auto add_normal = [&](const Vec3& n) {
            const bool known = std::any_of(touch.normals.begin(), touch.normals.end(),
                                           [&](const Vec3& other) { return (other - n).norm() < limits::back_off_mm; });
            if (!known) touch.normals.push_back(n);
        };
        for (const Contact& contact : contacts_) {
            if (contact.placement != standing.placement->id || contact.piece != piece.id) continue;
            add_normal(contact.normal_T);
            for (const setup::PosedFace& face : standing.posed->faces) {
                if (face.id != contact.locating_face || face.shape != shop::FaceShape::cylinder) continue;
                touch.away_mm = std::max(touch.away_mm, limits::back_off_mm + outside_of_mesh_mm(face.diameter_mm));
                if (!contact.both_ways) continue;
                touch.in_hole = true;
                touch.allowed_mm3 = limits::overlap_mm3 +
                                    std::max(0.0, -contact.gap_mm) * face.diameter_mm * (face.to_mm - face.from_mm);
            }
        }
        // What is mounted on a piece touches it with its mount face.
        const setup::Host& host = standing.placement->seat.host;
        if (std::find(host.pieces.begin(), host.pieces.end(), piece.id) != host.pieces.end()) {
            if (const auto grid = setup::host_grid(setup_, stage_, host)) add_normal(-grid->X_TH.rotation().col(2));
        }
        if (touch.normals.empty()) return {};
        return touch;
    }

    /// A clamp whose pad comes down on this piece within its stroke is meant to be near it.
    bool presses(const Standing& standing, const Lying& piece) const {
        if (!standing.component->clamp) return false;
        if (near_.empty()) near_ = contacts_within(setup_, stage_, posed_, longest_stroke());
        return std::any_of(near_.begin(), near_.end(), [&](const Contact& c) {
            return c.placement == standing.placement->id && c.piece == piece.id && !c.locates && c.gap_mm >= 0 &&
                   c.gap_mm <= standing.component->clamp->stroke_mm;
        });
    }
    double longest_stroke() const {
        double longest = limits::contact_mm;
        for (const Standing& standing : standing_) {
            if (standing.component->clamp) longest = std::max(longest, standing.component->clamp->stroke_mm);
        }
        return longest;
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

    void against_piece(const Standing& standing, const Lying& piece) {
        if (standing.box_T.distance(piece.body->box().moved(piece.X_TP)) > limits::clearance_horizon_mm) return;
        const auto touching = touch(standing, piece);
        Clearance clearance;
        clearance.placement = standing.placement->id;
        clearance.other = piece.id;
        if (touching) {
            const auto hit = backed_off_hit(standing, piece, *touching);
            clearance.overlap = hit.has_value();
            report_.nearest.push_back(clearance);
            ++judged_[collision_rule];
            if (hit) collision(standing, piece, *hit);
            return;
        }
        const bool meant = presses(standing, piece);
        bool collided = false;
        std::optional<Clearance> nearest;
        for (const bool is_moving : {false, true}) {
            const auto& body = is_moving ? standing.moving : standing.fixed;
            if (!body) continue;
            const auto found =
                space::separation(*body, standing.posed->X_TC, *piece.body, piece.X_TP, limits::clearance_horizon_mm);
            if (!found) continue;
            if (!nearest || found->distance_mm < nearest->distance_mm) {
                clearance.distance_mm = found->distance_mm;
                clearance.on_placement_T = found->on_a;
                clearance.on_other_T = found->on_b;
                clearance.overlap = found->overlap;
                nearest = clearance;
            }
            if (found->overlap) {
                if (!collided) collision(standing, piece, found->on_a);
                collided = true;
                continue;
            }
            if (meant && is_moving) continue;
            const double limit = is_moving ? setup_.limits.clearance_moving_mm : setup_.limits.clearance_piece_mm;
            judge(is_moving, standing, piece, *found, limit);
        }
        if (nearest) report_.nearest.push_back(*nearest);
    }

    void judge(bool is_moving, const Standing& standing, const Lying& piece, const space::Separation& found,
               double limit) {
        const char* rule = is_moving ? moving_rule : piece_rule;
        auto [least, first] = least_.try_emplace(rule, found.distance_mm);
        if (!first) least->second = std::min(least->second, found.distance_mm);
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

    std::optional<Vec3> backed_off_hit(const Standing& standing, const Lying& piece, const Touch& touching) const {
        if (!touching.grips()) {
            const Pose X_TC = Pose::move(touching.back_off()) * standing.posed->X_TC;
            for (const auto& body : {standing.fixed, standing.moving}) {
                if (!body) continue;
                const auto found = space::separation(*body, X_TC, *piece.body, piece.X_TP, 0);
                if (found && found->overlap) return found->on_a;
            }
            return {};
        }
        // Jaws on both sides: what touches by design shares no volume.
        for (const auto* parts : {&standing.posed->fixed, &standing.posed->moving}) {
            if (parts->empty()) continue;
            const auto common = space::common_volume(shop::brep_of(*parts), standing.posed->X_TC, piece.piece->brep,
                                                     piece.X_TP * piece.piece->X_PD);
            if (!common || *common > touching.allowed_mm3) return standing.posed->X_TC.position();
        }
        return {};
    }

    /// Bodies that touch by design or by chance are not in each other's way: only what stays after a small move in
    /// every direction of both is an overlap.
    static std::optional<Vec3> deep_overlap(const ProximityBody& a, const Pose& X_TA, const ProximityBody& b,
                                            const Pose& X_TB) {
        const auto plain = space::separation(a, X_TA, b, X_TB, 0);
        if (!plain || !plain->overlap) return {};
        for (const Pose* frame : {&X_TA, &X_TB}) {
            for (int axis = 0; axis < 3; ++axis) {
                for (const double way : {limits::back_off_mm, -limits::back_off_mm}) {
                    const Pose moved = Pose::move(frame->rotation().col(axis) * way) * X_TA;
                    const auto left = space::separation(a, moved, b, X_TB, 0);
                    if (!left || !left->overlap) return {};
                }
            }
        }
        return plain->on_a;
    }

    void against_placement(const Standing& one, const Standing& other) {
        const double apart = one.box_T.distance(other.box_T);
        if (apart > limits::clearance_horizon_mm) return;
        Clearance clearance;
        clearance.placement = one.placement->id;
        clearance.other = other.placement->id;
        std::optional<Clearance> nearest;
        std::optional<Vec3> hit;
        for (const auto& a : {one.fixed, one.moving}) {
            for (const auto& b : {other.fixed, other.moving}) {
                if (!a || !b) continue;
                const Pose& X_TA = one.posed->X_TC;
                const Pose& X_TB = other.posed->X_TC;
                const auto found = space::separation(*a, X_TA, *b, X_TB, limits::clearance_horizon_mm);
                if (!found) continue;
                if (found->overlap && !hit) hit = deep_overlap(*a, X_TA, *b, X_TB);
                if (nearest && nearest->distance_mm <= found->distance_mm) continue;
                clearance.distance_mm = found->distance_mm;
                clearance.on_placement_T = found->on_a;
                clearance.on_other_T = found->on_b;
                nearest = clearance;
            }
        }
        if (!nearest) return;
        nearest->overlap = hit.has_value();
        report_.nearest.push_back(*nearest);
        std::swap(nearest->placement, *std::get_if<PlacementId>(&nearest->other));
        std::swap(nearest->on_placement_T, nearest->on_other_T);
        report_.nearest.push_back(*nearest);
        auto [least, first] = least_.try_emplace(component_rule, nearest->distance_mm);
        if (!first) least->second = std::min(least->second, nearest->distance_mm);
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
        const shop::Table& table = setup_.table;
        const Vec3 corner(-table.margin_west_mm, -table.margin_south_mm, -table.thickness_mm);
        const ProximityBody plate(
            space::box_mesh(corner, corner + Vec3(table.length_mm, table.width_mm, table.thickness_mm)));
        for (const Lying& piece : lying_) {
            double lowest = std::numeric_limits<double>::infinity();
            for (const Vec3& p : piece.piece->solid->mesh.points) lowest = std::min(lowest, (piece.X_TP * p).z());
            auto [least, first] = least_.try_emplace(table_rule, lowest);
            if (!first) least->second = std::min(least->second, lowest);
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
    }

    void say_what_passed() {
        const auto failed = [&](const char* rule) {
            return std::any_of(report_.findings.begin(), report_.findings.end(),
                               [&](const Finding& f) { return f.rule == rule && f.verdict == Verdict::fail; });
        };
        const auto pass = [&](const char* rule, const char* near, const char* far, std::optional<double> limit) {
            if (failed(rule)) return;
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
        if (!failed(collision_rule)) {
            add(collision_rule, Verdict::pass,
                {"clearance.pass_collision", {{"n", std::int64_t{judged_[collision_rule]}}}})
                .measured = judged_[collision_rule];
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
    mutable std::vector<Contact> near_;
    std::map<std::string, double> least_;
    std::map<std::string, int> judged_;
    ClearanceReport report_;
};

}  // namespace

ClearanceReport check_clearance(const setup::Setup& setup, const setup::Stage& stage,
                                const std::vector<setup::Posed>& posed, const std::vector<Contact>& contacts,
                                const base::Progress& job) {
    return StageClearance(setup, stage, posed, contacts, job).run();
}

}  // namespace setwright::check
