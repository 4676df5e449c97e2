#include "core/check/bodies.h"

#include <algorithm>
#include <cmath>
#include <mutex>
#include <numbers>

namespace setwright::check {

namespace limits = base::limits;
using space::Pose;
using space::ProximityBody;
using space::Vec3;

namespace {

/// A round face's mesh stands this far outside the true cylinder at its corners (space::cylinder_mesh, 24 sides).
double outside_of_mesh_mm(double diameter_mm) {
    constexpr double sides = 24;
    return diameter_mm / 2 * (1 / std::cos(std::numbers::pi / sides) - 1);
}

std::shared_ptr<const ProximityBody> body_of(const std::vector<shop::BodyPart>& parts) {
    if (parts.empty()) return nullptr;
    return std::make_shared<ProximityBody>(shop::mesh_of(parts));
}

/// A solid's body takes milliseconds to make, and every check and every drag asks for it: made once, kept as long as
/// the solid is there.
std::shared_ptr<const ProximityBody> body_of(const std::shared_ptr<const space::Solid>& solid) {
    static std::mutex mutex;
    static std::map<std::weak_ptr<const space::Solid>, std::shared_ptr<const ProximityBody>, std::owner_less<>> made;
    {
        const std::lock_guard lock(mutex);
        if (const auto known = made.find(solid); known != made.end()) return known->second;
    }
    auto body = std::make_shared<const ProximityBody>(solid->mesh);
    const std::lock_guard lock(mutex);
    std::erase_if(made, [](const auto& entry) { return entry.first.expired(); });
    return made.try_emplace(solid, std::move(body)).first->second;
}

}  // namespace

Standing StandingMaker::make(const setup::Setup& setup, const setup::Placement& placement, const setup::Posed& posed) {
    const setup::Seat& seat = placement.seat;
    std::string choices = placement.component + '\n' + seat.plate + '\n' + std::to_string(static_cast<int>(seat.hand)) +
                          '\n' + std::to_string(seat.setting);
    for (const setup::Packer& packer : seat.packers) {
        choices += '\n' + packer.component + '\n' + std::to_string(static_cast<int>(packer.where)) + '\n' +
                   base::number_text(packer.thickness_mm);
    }
    const auto [it, is_new] = made_.try_emplace(choices);
    if (is_new) it->second = {body_of(posed.fixed), body_of(posed.moving)};
    Standing standing;
    standing.placement = &placement;
    standing.posed = &posed;
    standing.component = setup.find_component(placement.component);
    standing.bodies = it->second;
    for (const auto& body : {standing.bodies.fixed, standing.bodies.moving}) {
        if (body) standing.box_T.add(body->box().moved(posed.X_TC));
    }
    return standing;
}

std::vector<Lying> lying_pieces(const setup::Setup& setup, const setup::Stage& stage) {
    std::vector<Lying> out;
    for (const LaidBody& laid : laid_bodies(setup, stage)) {
        for (const PieceId id : laid.pieces) {
            const weldment::Piece* piece = setup.find_piece(id);
            const auto body = body_of(piece->solid);
            const Pose X_TP = stage.lay.X_TM * piece->X_MP;
            out.push_back({id, piece, X_TP, body, body->box().moved(X_TP)});
        }
    }
    std::sort(out.begin(), out.end(), [](const Lying& a, const Lying& b) { return a.id < b.id; });
    return out;
}

space::Mesh plate_mesh(const shop::Table& table) {
    const Vec3 corner(-table.margin_west_mm, -table.margin_south_mm, -table.thickness_mm);
    return space::box_mesh(corner, corner + Vec3(table.length_mm, table.width_mm, table.thickness_mm));
}

bool is_guest_and_host(const setup::Placement& a, const setup::Placement& b) {
    const auto stands_on = [](const setup::Placement& guest, const setup::Placement& host) {
        return guest.seat.host.kind == setup::Host::Kind::placement && guest.seat.host.placement == host.id;
    };
    return stands_on(a, b) || stands_on(b, a);
}

Vec3 Touch::back_off() const {
    Vec3 sum = Vec3::Zero();
    for (const Vec3& n : normals) sum -= n;
    return sum * away_mm;
}

bool Touch::grips() const {
    if (in_hole) return true;
    const Vec3 out = back_off();
    return std::any_of(normals.begin(), normals.end(), [&](const Vec3& n) { return n.dot(out) > -away_mm / 2; });
}

std::optional<Touch> touch(const setup::Setup& setup, const setup::Stage& stage, const std::vector<Contact>& contacts,
                           const Standing& standing, const Lying& piece) {
    Touch touch;
    const auto add_normal = [&](const Vec3& n) {
        const bool known = std::any_of(touch.normals.begin(), touch.normals.end(),
                                       [&](const Vec3& other) { return (other - n).norm() < limits::back_off_mm; });
        if (!known) touch.normals.push_back(n);
    };
    for (const Contact& contact : contacts) {
        if (contact.placement != standing.placement->id || contact.piece != piece.id) continue;
        add_normal(contact.normal_T);
        for (const setup::PosedFace& face : standing.posed->faces) {
            if (face.id != contact.locating_face || face.shape != shop::FaceShape::cylinder) continue;
            touch.away_mm = std::max(touch.away_mm, limits::back_off_mm + outside_of_mesh_mm(face.diameter_mm));
            if (!contact.both_ways) continue;
            touch.in_hole = true;
            touch.allowed_mm3 =
                limits::overlap_mm3 + std::max(0.0, -contact.gap_mm) * face.diameter_mm * (face.to_mm - face.from_mm);
        }
    }
    // What is mounted on a piece touches it with its mount face.
    const setup::Host& host = standing.placement->seat.host;
    if (std::find(host.pieces.begin(), host.pieces.end(), piece.id) != host.pieces.end()) {
        if (const auto grid = setup::host_grid(setup, stage, host)) add_normal(-grid->X_TH.rotation().col(2));
    }
    if (touch.normals.empty()) return {};
    return touch;
}

double reach_of_pads(const Standing& standing) {
    return std::max(limits::contact_mm, standing.component->clamp ? standing.component->clamp->stroke_mm : 0.0);
}

bool presses(const std::vector<Contact>& near, const Standing& standing, const Lying& piece) {
    if (!standing.component->clamp) return false;
    return std::any_of(near.begin(), near.end(), [&](const Contact& c) {
        return c.placement == standing.placement->id && c.piece == piece.id && !c.locates && c.gap_mm >= 0 &&
               c.gap_mm <= standing.component->clamp->stroke_mm;
    });
}

Hit hit_beyond_touch(const Standing& standing, const Lying& piece, const Touch& touching) {
    const Pose& X_TC = standing.posed->X_TC;
    if (!touching.grips()) {
        const Pose backed_off = Pose::move(touching.back_off()) * X_TC;
        for (const auto& body : {standing.bodies.fixed, standing.bodies.moving}) {
            if (!body) continue;
            const auto found = space::separation(*body, backed_off, *piece.body, piece.X_TP, 0);
            if (found && found->overlap) return {Hit::Kind::overlap, found->on_a};
        }
        return {};
    }
    // Jaws on both sides: what touches by design shares no volume.
    Hit hit;
    for (const auto* parts : {&standing.posed->fixed, &standing.posed->moving}) {
        if (parts->empty()) continue;
        const auto common =
            space::common_volume(shop::brep_of(*parts), X_TC, piece.piece->brep, piece.X_TP * piece.piece->X_PD);
        if (!common) {
            hit = {Hit::Kind::not_computed, X_TC.position()};
        } else if (*common > touching.allowed_mm3) {
            return {Hit::Kind::overlap, X_TC.position()};
        }
    }
    return hit;
}

bool stays_overlapped(const ProximityBody& a, const Pose& X_TA, const ProximityBody& b, const Pose& X_TB) {
    for (const Pose* frame : {&X_TA, &X_TB}) {
        for (int axis = 0; axis < 3; ++axis) {
            for (const double way : {limits::back_off_mm, -limits::back_off_mm}) {
                const Pose moved = Pose::move(frame->rotation().col(axis) * way) * X_TA;
                const auto left = space::separation(a, moved, b, X_TB, 0);
                if (!left || !left->overlap) return false;
            }
        }
    }
    return true;
}

std::optional<Vec3> inside_plate(const Standing& standing, const ProximityBody& plate) {
    if (standing.box_T.min.z() >= -limits::contact_mm) return {};
    for (const auto& body : {standing.bodies.fixed, standing.bodies.moving}) {
        if (!body) continue;
        const auto found = space::separation(*body, standing.posed->X_TC, plate, Pose(), 0);
        if (found && found->overlap && stays_overlapped(*body, standing.posed->X_TC, plate, Pose())) return found->on_a;
    }
    return {};
}

}  // namespace setwright::check
