#include "app/tools/touch_tool.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "app/tools/seat_drag.h"
#include "core/base/limits.h"
#include "core/check/report.h"
#include "core/setup/edit.h"

namespace setwright::app {

namespace {

namespace limits = base::limits;
using space::Vec3;

constexpr std::size_t most_offers = 12;
/// One hole takes many plates, marks and packers: as many are looked at to find enough holes, and in one hole as many
/// are tried to find one that runs into nothing.
constexpr int seats_looked_at = 150;
constexpr int tries_in_one_hole = 6;
constexpr double spot_pixels = 12;

std::vector<setup::Host> hosts_with_holes(const setup::Setup& setup, const setup::Stage& stage) {
    std::vector<setup::Host> hosts{{}};
    for (const setup::Placement& placement : stage.placements) {
        const shop::Component* component = setup.find_component(placement.component);
        if (!component) continue;
        for (const shop::GridFace& face : component->grid_faces) {
            setup::Host host;
            host.kind = setup::Host::Kind::placement;
            host.placement = placement.id;
            host.face = face.id;
            hosts.push_back(std::move(host));
        }
    }
    return hosts;
}

/// Middle of the locating face that is to touch.
std::optional<Vec3> place_of(const setup::Posed& posed, const std::string& face) {
    for (const setup::PosedFace& its : posed.faces)
        if (its.id == face) return its.point_T + its.up_T * ((its.from_mm + its.to_mm) / 2);
    return {};
}

/// The holes from which `component` touches this face, each with the first of its seats that runs into nothing.
std::vector<Offer> offers_for(const std::shared_ptr<const setup::Setup>& knowing, StageId stage_id,
                              const std::shared_ptr<const shop::Component>& component, PieceId piece, int face,
                              const Vec3& near_T, const base::Progress& job) {
    setup::Setup with = *knowing;
    with.components.emplace(component->id, component);
    const setup::Stage& stage = *with.find_stage(stage_id);

    struct Found {
        setup::TouchingSeat touching;
        double distance_mm;
    };
    std::vector<Found> found;
    setup::Placement as;
    as.component = component->id;
    // Exact ones go first where they are within one hole of each other, as on a single host.
    const double one_hole = std::max(with.table.pitch_x_mm, with.table.pitch_y_mm);
    for (const setup::Host& host : hosts_with_holes(with, stage)) {
        if (job.cancelled()) return {};
        for (setup::TouchingSeat& touching :
             setup::seats_touching(with, stage, *component, host, piece, face, near_T, seats_looked_at)) {
            as.seat = touching.seat;
            const base::Result<setup::Posed> posed = setup::pose(with, stage, as);
            if (!posed) continue;
            const Vec3 at = place_of(*posed, touching.face).value_or(posed->X_TC.position());
            const double late = std::abs(touching.gap_mm) <= limits::exact_face_mm ? 0 : one_hole;
            found.push_back({std::move(touching), (at - near_T).norm() + late});
        }
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const Found& a, const Found& b) { return a.distance_mm < b.distance_mm; });

    const check::Probe probe(knowing, stage_id, component);
    std::vector<Offer> offers;
    struct Place {
        std::size_t offer = 0;
        int tries = 1;
    };
    std::map<std::tuple<PlacementId, std::string, shop::Hole>, Place> places;
    for (Found& one : found) {
        if (job.cancelled()) return {};
        const setup::Seat& seat = one.touching.seat;
        const auto known = places.find({seat.host.placement, seat.host.face, seat.hole});
        if (known == places.end() && offers.size() == most_offers) continue;
        // One offer a hole: its number stands there, plate and packers can be changed once it is set.
        if (known != places.end() &&
            (!offers[known->second.offer].probed.blocked || known->second.tries++ >= tries_in_one_hole))
            continue;
        check::Probed probed = probe.at(seat);
        if (known != places.end() && probed.blocked) continue;
        const bool exact = std::abs(one.touching.gap_mm) <= limits::exact_face_mm;
        Offer offer{seat, probed.callout, one.touching.gap_mm, exact, std::move(probed)};
        if (known != places.end()) {
            offers[known->second.offer] = std::move(offer);
        } else {
            places[{seat.host.placement, seat.host.face, seat.hole}] = {offers.size(), 1};
            offers.push_back(std::move(offer));
        }
    }
    return offers;
}

}  // namespace

TouchTool::TouchTool(Desk& desk, std::shared_ptr<const shop::Component> component)
    : Tool(desk), component_(std::move(component)) {}

QString TouchTool::hint() const {
    const std::vector<base::Text> name{check::component_name(*component_)};
    return desk().words(offers_.empty() ? "tool.hint_touch" : "tool.hint_offers", {{"what", name}});
}

void TouchTool::search(PieceId piece, int face, const Vec3& near_T) {
    forget();
    wanted_ = {piece, face};
    searching_ = std::make_unique<Background>([this, knowing = desk().session.knowing(), stage = desk().session.stage(),
                                               component = component_, piece, face,
                                               near_T](const base::Progress& job) -> Background::Done {
        auto found =
            std::make_shared<std::vector<Offer>>(offers_for(knowing, stage, component, piece, face, near_T, job));
        return [this, found] { show(std::move(*found)); };
    });
    Q_EMIT overlay_changed();
}

void TouchTool::show(std::vector<Offer> offers) {
    offers_ = std::move(offers);
    shown_ = 0;
    if (offers_.empty())
        desk().session.refuse({"tool.no_offer",
                               {{"what", std::vector{check::component_name(*component_)}},
                                {"piece", std::vector{thing(desk().session.now(), wanted_->first)}}}});
    Q_EMIT offered(offers_);
    Q_EMIT hint_changed();
    Q_EMIT overlay_changed();
}

int TouchTool::spot_under(const Pointer& pointer) const {
    int best = -1;
    double least = spot_pixels * pointer.mm_per_pixel;
    for (std::size_t i = 0; i < offers_.size(); ++i) {
        if (!offers_[i].probed.posed) continue;
        const Vec3 off = offers_[i].probed.posed->X_TC.position() - pointer.ray.origin_T;
        const double distance = off.cross(pointer.ray.direction_T).norm();
        if (distance >= least) continue;
        least = distance;
        best = static_cast<int>(i);
    }
    return best;
}

void TouchTool::press(const Pointer& pointer) {
    if (!desk().session.has_job()) return;
    if (const int spot = spot_under(pointer); spot >= 0) {
        choose(spot);
        return;
    }
    const PieceId* piece = pointer.picked.piece();
    if (piece && pointer.picked.face >= 0)
        search(*piece, pointer.picked.face, pointer.picked.point_T);
    else
        desk().session.say({"tool.touch_a_piece", {}});
}

void TouchTool::move(const Pointer& pointer) {
    const int spot = spot_under(pointer);
    std::optional<std::pair<PieceId, int>> face;
    if (const PieceId* piece = pointer.picked.piece(); piece && pointer.picked.face >= 0 && spot < 0)
        face = {*piece, pointer.picked.face};
    if (face == hovered_ && (spot < 0 || spot == shown_)) return;
    hovered_ = face;
    if (spot >= 0) shown_ = spot;
    Q_EMIT overlay_changed();
}

void TouchTool::leave() {
    if (!hovered_) return;
    hovered_.reset();
    Q_EMIT overlay_changed();
}

void TouchTool::preview(int offer) {
    shown_ = offer < 0 || offer >= static_cast<int>(offers_.size()) ? 0 : offer;
    Q_EMIT overlay_changed();
}

void TouchTool::choose(int index) {
    if (index < 0 || index >= static_cast<int>(offers_.size())) return;
    const Offer offer = offers_[static_cast<std::size_t>(index)];
    Session& session = desk().session;
    base::Result<setup::Placed> placed = setup::place(*session.knowing(), session.stage(), component_, offer.seat);
    if (!placed) {
        session.refuse(placed.error().text);
        return;
    }
    const std::map<std::string, base::TextArgument> arguments{{"what", std::vector{check::component_name(*component_)}},
                                                              {"callout", offer.callout}};
    forget();
    if (session.apply(std::move(placed->setup), {"tool.label_set", arguments})) session.say({"tool.set_at", arguments});
}

bool TouchTool::key(const QKeyEvent& key) {
    if (offers_.empty()) return false;
    if (key.key() == Qt::Key_Escape) {
        forget();
        return true;
    }
    if (key.key() == Qt::Key_Return || key.key() == Qt::Key_Enter) {
        choose(shown_);
        return true;
    }
    if (key.key() >= Qt::Key_1 && key.key() <= Qt::Key_9) {
        choose(key.key() - Qt::Key_1);
        return true;
    }
    return false;
}

void TouchTool::forget() {
    searching_.reset();
    offers_.clear();
    wanted_.reset();
    shown_ = 0;
    Q_EMIT offered(offers_);
    Q_EMIT hint_changed();
    Q_EMIT overlay_changed();
}

void TouchTool::reset() {
    hovered_.reset();
    forget();
}

viewer::Overlay TouchTool::overlay() const {
    using viewer::Tone;
    viewer::Overlay over;
    over.face = hovered_ ? hovered_ : wanted_;
    for (std::size_t i = 0; i < offers_.size(); ++i) {
        const Offer& offer = offers_[i];
        if (!offer.probed.posed) continue;
        const Tone tone = offer.probed.blocked ? Tone::bad : offer.exact ? Tone::good : Tone::warn;
        over.spots.push_back({offer.probed.posed->X_TC.position(), std::to_string(i + 1), tone});
        if (static_cast<int>(i) != shown_) continue;
        over.ghosts.push_back(
            {desk().shapes.of(*component_, offer.seat, *offer.probed.posed), offer.probed.posed->X_TC, tone});
        for (const check::Contact& contact : offer.probed.contacts)
            over.touches.push_back({contact.point_T, contact.normal_T, contact.patch_T, Tone::good});
        const QString how = offer.probed.blocked ? in_lines(desk().words(offer.probed.why), 46)
                            : offer.exact        ? desk().words("tool.exact")
                                                 : desk().words("tool.short", {{"gap", base::LengthArg{offer.gap_mm}}});
        const Vec3& at = offer.probed.posed->X_TC.position();
        over.notes.push_back(
            {{at.x(), at.y(), offer.probed.posed->height_mm}, offer.callout + '\n' + how.toStdString(), tone});
    }
    return over;
}

}  // namespace setwright::app
