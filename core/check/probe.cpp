#include "core/check/probe.h"

#include <algorithm>
#include <map>

#include "core/base/limits.h"
#include "core/check/bodies.h"
#include "core/setup/seating.h"

namespace setwright::check {

namespace limits = base::limits;
using base::Text;
using setup::Placement;
using setup::Posed;
using space::Aabb;
using space::Pose;
using space::ProximityBody;
using space::Vec3;

namespace {

/// Something that stays where it is: a piece, or the fixed or moving part of a placement.
struct Still {
    const ProximityBody* body = nullptr;
    Pose X_T;
    Aabb box_T;
    /// One of the two.
    const Lying* piece = nullptr;
    const Standing* standing = nullptr;
};

/// The placement that is moved and all that stands on it, hosts before guests.
std::vector<PlacementId> with_guests(const setup::Stage& stage, PlacementId self) {
    std::vector<PlacementId> group{self};
    for (std::size_t i = 0; i < group.size(); ++i) {
        for (const Placement& placement : stage.placements) {
            const setup::Host& host = placement.seat.host;
            const bool stands_on_it = host.kind == setup::Host::Kind::placement && host.placement == group[i];
            if (stands_on_it && std::find(group.begin(), group.end(), placement.id) == group.end())
                group.push_back(placement.id);
        }
    }
    return group;
}

}  // namespace

struct Probe::Impl {
    /// The job with the moved placement in it; its stage is where the seat under test is written.
    mutable setup::Setup setup;
    StageId stage_id;
    PlacementId self;
    std::vector<PlacementId> group;
    mutable StandingMaker maker;
    std::vector<Lying> lying;
    std::vector<Posed> posed;
    std::vector<Standing> standing;
    std::vector<Still> still;
    std::unique_ptr<const PieceFaces> faces;
    std::unique_ptr<const ProximityBody> plate;

    /// Shared volumes are slow: where a part grips or a pin sits in a hole, each seat is worked out once.
    struct Gripped {
        PlacementId placement;
        PieceId piece;
        Pose X_TC;
        setup::Seat seat;
        Hit hit;
    };
    mutable std::vector<Gripped> gripped;

    /// One answer being worked out.
    struct Step;
};

namespace {

Text name_of(const setup::Setup& setup, const Lying& piece) {
    return {"name.piece", {{"name", setup.piece_name(piece.id)}}};
}
Text name_of(const Placement& placement) {
    return {"name.block", {{"no", std::int64_t{placement.no}}}};
}

}  // namespace

struct Probe::Impl::Step {
    const Impl& impl;
    const setup::Stage& stage;
    Probed& out;
    std::vector<Posed> posed;
    std::vector<Standing> moved;
    /// Moved placement and piece that touch by design, and those that a pad comes down on.
    std::vector<std::pair<const Standing*, const Lying*>> by_design, pressed;

    /// Two parts that may come near each other.
    struct Pair {
        double at_least_mm;
        const Standing* moved;
        const ProximityBody* body;
        bool is_moving;
        const Still* still;
    };

    void block(const Standing& who, Text why) {
        out.blocked = true;
        out.why = about(*who.placement, std::move(why));
    }
    Text about(const Placement& who, Text why) const {
        if (who.id == impl.self) return why;
        return {"probe.guest", {{"block", std::vector{name_of(who)}}, {"why", std::vector{std::move(why)}}}};
    }
    Text runs_into(Text other) const { return {"probe.runs_into", {{"other", std::vector{std::move(other)}}}}; }

    /// Stands the group in its place; false where one of it has none.
    bool stand() {
        for (const PlacementId id : impl.group) {
            const Placement& placement = *stage.find(id);
            base::Result<Posed> there = setup::pose(impl.setup, stage, placement);
            if (!there) {
                out.blocked = true;
                out.why = about(placement, there.error().text);
                return false;
            }
            posed.push_back(std::move(*there));
        }
        for (const Posed& one : posed) moved.push_back(impl.maker.make(impl.setup, *stage.find(one.id), one));
        return true;
    }

    /// Only the hole of the moved one can be taken: its guests keep theirs on it.
    void look_for_holes() {
        if (const auto seat = setup::check_seat(impl.setup, stage, *moved.front().placement); !seat)
            block(moved.front(), seat.error().text);
    }

    void meet_pieces() {
        out.contacts = impl.faces->met_by(posed, limits::contact_mm);
        std::vector<Contact> near;
        double reach_mm = 0;
        for (const Standing& standing : moved)
            if (standing.component->clamp) reach_mm = std::max(reach_mm, reach_of_pads(standing));
        if (reach_mm > 0) near = impl.faces->met_by(posed, reach_mm);
        for (const Standing& standing : moved) {
            for (const Lying& piece : impl.lying) {
                if (standing.box_T.distance(piece.box_T) > limits::clearance_horizon_mm) continue;
                if (const auto touching = touch(impl.setup, stage, out.contacts, standing, piece)) {
                    by_design.emplace_back(&standing, &piece);
                    if (out.blocked) continue;
                    const Hit hit = hit_of(standing, piece, *touching);
                    if (hit.kind == Hit::Kind::none) continue;
                    if (hit.kind == Hit::Kind::not_computed) {
                        if (out.why.empty())
                            out.why =
                                about(*standing.placement,
                                      {"probe.not_computed", {{"other", std::vector{name_of(impl.setup, piece)}}}});
                        continue;
                    }
                    block(standing, runs_into(name_of(impl.setup, piece)));
                    set_nearest(standing, piece.id, 0, true, hit.at_T, hit.at_T, impl.setup.limits.clearance_piece_mm);
                } else if (presses(near, standing, piece)) {
                    pressed.emplace_back(&standing, &piece);
                }
            }
        }
    }

    Hit hit_of(const Standing& standing, const Lying& piece, const Touch& touching) const {
        if (!touching.grips()) return hit_beyond_touch(standing, piece, touching);
        const PlacementId id = standing.placement->id;
        for (const Gripped& known : impl.gripped) {
            if (known.placement == id && known.piece == piece.id && known.X_TC == standing.posed->X_TC &&
                known.seat == standing.placement->seat)
                return known.hit;
        }
        const Hit hit = hit_beyond_touch(standing, piece, touching);
        impl.gripped.push_back({id, piece.id, standing.posed->X_TC, standing.placement->seat, hit});
        return hit;
    }

    void set_nearest(const Standing& standing, Subject other, double distance_mm, bool overlap, const Vec3& on_moved,
                     const Vec3& on_other, double limit_mm) {
        out.nearest =
            Clearance{standing.placement->id, std::move(other), distance_mm, overlap, false, on_moved, on_other};
        out.limit_mm = limit_mm;
    }

    /// The group among itself: a new plate, mark or hand can bring a guest and its block into each other's way.
    void look_inside() {
        for (std::size_t i = 0; i < moved.size(); ++i) {
            for (std::size_t k = 0; k < i && !out.blocked; ++k) {
                if (moved[i].box_T.distance(moved[k].box_T) > 0) continue;
                for (const auto& a : {moved[i].bodies.fixed, moved[i].bodies.moving}) {
                    for (const auto& b : {moved[k].bodies.fixed, moved[k].bodies.moving}) {
                        if (!a || !b || out.blocked) continue;
                        const Pose &X_TA = moved[i].posed->X_TC, &X_TB = moved[k].posed->X_TC;
                        const auto found = space::separation(*a, X_TA, *b, X_TB, 0);
                        if (!found || !found->overlap || !stays_overlapped(*a, X_TA, *b, X_TB)) continue;
                        Text other = moved[k].placement->id == impl.self ? Text{"probe.its_block", {}}
                                                                         : name_of(*moved[k].placement);
                        block(moved[i], runs_into(std::move(other)));
                        set_nearest(moved[i], moved[k].placement->id, 0, true, found->on_a, found->on_b, 0);
                    }
                }
            }
        }
    }

    void look_at_table() {
        for (const Standing& standing : moved) {
            if (out.blocked) return;
            const auto at_T = inside_plate(standing, *impl.plate);
            if (!at_T) continue;
            block(standing, {"probe.in_table", {}});
            set_nearest(standing, std::string("table"), 0, true, *at_T, *at_T, 0);
        }
    }

    bool is_one_of(const std::vector<std::pair<const Standing*, const Lying*>>& pairs, const Standing& standing,
                   const Still& still) const {
        return std::find(pairs.begin(), pairs.end(), std::pair(&standing, still.piece)) != pairs.end();
    }

    std::vector<Pair> near_pairs() const {
        std::vector<Pair> pairs;
        for (const Standing& standing : moved) {
            for (const bool is_moving : {false, true}) {
                const auto& body = is_moving ? standing.bodies.moving : standing.bodies.fixed;
                if (!body) continue;
                const Aabb box_T = body->box().moved(standing.posed->X_TC);
                for (const Still& still : impl.still) {
                    const double at_least = box_T.distance(still.box_T);
                    if (at_least > limits::clearance_horizon_mm) continue;
                    if (still.piece != nullptr && is_one_of(by_design, standing, still)) continue;
                    pairs.push_back({at_least, &standing, body.get(), is_moving, &still});
                }
            }
        }
        std::stable_sort(pairs.begin(), pairs.end(),
                         [](const Pair& a, const Pair& b) { return a.at_least_mm < b.at_least_mm; });
        return pairs;
    }

    bool too_near(double distance_mm, double limit_mm) const {
        // As check_clearance(): set exactly at the limit is good.
        return limit_mm > 0 && distance_mm < limit_mm - limits::coincident_mm;
    }

    void look_around() {
        for (const Pair& pair : near_pairs()) {
            if (out.blocked && out.nearest && out.nearest->overlap) return;
            const Still& still = *pair.still;
            const double limit = still.piece == nullptr ? 0
                                 : pair.is_moving       ? impl.setup.limits.clearance_moving_mm
                                                        : impl.setup.limits.clearance_piece_mm;
            const bool only_overlap = still.piece != nullptr
                                          ? pair.is_moving && is_one_of(pressed, *pair.moved, still)
                                          : is_guest_and_host(*pair.moved->placement, *still.standing->placement);
            // Later pairs need a look only where they could be nearer, or too near where the nearest so far is not.
            double cutoff = limits::clearance_horizon_mm;
            if (only_overlap) {
                cutoff = 0;
            } else if (out.nearest) {
                cutoff = out.nearest->distance_mm;
                if (!too_near(cutoff, out.limit_mm)) cutoff = std::max(cutoff, limit);
            }
            if (pair.at_least_mm > cutoff) continue;
            const Pose& X_TC = pair.moved->posed->X_TC;
            const auto found = space::separation(*pair.body, X_TC, *still.body, still.X_T, cutoff);
            if (!found) continue;
            if (found->overlap &&
                (still.piece != nullptr || stays_overlapped(*pair.body, X_TC, *still.body, still.X_T))) {
                Text other =
                    still.piece != nullptr ? name_of(impl.setup, *still.piece) : name_of(*still.standing->placement);
                if (!out.blocked) block(*pair.moved, runs_into(std::move(other)));
                set_nearest(*pair.moved, subject(still), 0, true, found->on_a, found->on_b, limit);
                return;
            }
            if (only_overlap) continue;
            const bool near = too_near(found->distance_mm, limit);
            const bool best_is_near = out.nearest && too_near(out.nearest->distance_mm, out.limit_mm);
            const bool is_better = !out.nearest || near > best_is_near ||
                                   (near == best_is_near && found->distance_mm < out.nearest->distance_mm);
            if (is_better)
                set_nearest(*pair.moved, subject(still), found->distance_mm, false, found->on_a, found->on_b, limit);
        }
    }

    static Subject subject(const Still& still) {
        if (still.piece != nullptr) return still.piece->id;
        return still.standing->placement->id;
    }
};

Probe::Probe(std::shared_ptr<const setup::Setup> setup, StageId stage_id,
             std::shared_ptr<const shop::Component> component, PlacementId self) {
    auto impl = std::make_unique<Impl>();
    impl->setup = *setup;
    impl->stage_id = stage_id;
    impl->self = self;
    setup::Stage* stage = impl->setup.find_stage(stage_id);
    SETWRIGHT_ASSERT(stage != nullptr, "a probe is made for a stage of the job");
    impl->setup.components.try_emplace(component->id, component);
    if (!self.valid()) {
        Placement added;
        added.component = component->id;
        stage->placements.push_back(std::move(added));
    }
    SETWRIGHT_ASSERT(stage->find(self) != nullptr, "a probe moves a placement of the job");
    impl->group = with_guests(*stage, self);

    impl->lying = lying_pieces(impl->setup, *stage);
    for (const Placement& placement : stage->placements) {
        if (std::find(impl->group.begin(), impl->group.end(), placement.id) != impl->group.end()) continue;
        if (auto there = setup::pose(impl->setup, *stage, placement)) impl->posed.push_back(std::move(*there));
    }
    for (const Posed& posed : impl->posed)
        impl->standing.push_back(impl->maker.make(impl->setup, *stage->find(posed.id), posed));
    for (const Lying& piece : impl->lying)
        impl->still.push_back({piece.body.get(), piece.X_TP, piece.box_T, &piece, nullptr});
    for (const Standing& standing : impl->standing) {
        for (const auto& body : {standing.bodies.fixed, standing.bodies.moving}) {
            if (!body) continue;
            const Pose& X_TC = standing.posed->X_TC;
            impl->still.push_back({body.get(), X_TC, body->box().moved(X_TC), nullptr, &standing});
        }
    }
    impl->faces = std::make_unique<const PieceFaces>(impl->setup, *stage);
    impl->plate = std::make_unique<const ProximityBody>(plate_mesh(impl->setup.table));
    impl_ = std::move(impl);
}

Probe::~Probe() = default;

Probed Probe::at(const setup::Seat& seat) const {
    setup::Stage& stage = *impl_->setup.find_stage(impl_->stage_id);
    for (Placement& placement : stage.placements)
        if (placement.id == impl_->self) placement.seat = seat;

    Probed out;
    out.callout = setup::callout(impl_->setup, stage, *stage.find(impl_->self));
    Impl::Step step{*impl_, stage, out, {}, {}, {}, {}};
    if (step.stand()) {
        step.look_for_holes();
        step.meet_pieces();
        step.look_inside();
        step.look_at_table();
        step.look_around();
    }
    if (!step.posed.empty()) {
        out.posed = std::move(step.posed.front());
        out.guests.assign(std::make_move_iterator(step.posed.begin() + 1), std::make_move_iterator(step.posed.end()));
    }
    return out;
}

}  // namespace setwright::check
