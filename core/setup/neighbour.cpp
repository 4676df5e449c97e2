#include "core/setup/neighbour.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>

#include "core/base/limits.h"
#include "core/setup/seating.h"

namespace setwright::setup {

namespace limits = base::limits;
using base::Angle;
using base::Result;
using shop::Component;
using shop::Hole;
using space::Vec2;
using space::Vec3;

namespace {

constexpr int steps_in_a_turn = 24;
constexpr int degrees_in_a_step = 15;
constexpr int steps_in_a_quarter = 6;
constexpr int tenths_in_a_centimetre = 100;
/// A kilometre: further off is a slip of the hand, and the sum still fits its integer.
constexpr std::int64_t furthest_tenths = 10'000'000;

/// One component in one stage, asked whether a seat is one.
struct Asked {
    const Setup& setup;
    const Stage& stage;
    const Component& component;
    PlacementId self;

    bool stands(const Seat& seat) const { return seated(setup, stage, component, seat, self).ok(); }
};

int sign(int value) {
    return value > 0 ? 1 : value < 0 ? -1 : 0;
}

/// Counter-clockwise from the host's x, 0 to a whole turn.
double angle_deg(std::array<int, 2> turn, int turn_15deg, const HostGrid& grid) {
    double deg = turn_15deg * degrees_in_a_step;
    if (turn != std::array{0, 0})
        deg = Angle::rad(std::atan2(turn[1] * grid.pitch_y_mm, turn[0] * grid.pitch_x_mm)).deg();
    return deg < 0 ? deg + 360 : deg;
}

struct Turning {
    std::array<int, 2> turn{1, 0};
    int turn_15deg = 0;
    double deg = 0;
};

/// All turns on this host, counter-clockwise from its x.
std::vector<Turning> turnings(const Component& component, const HostGrid& grid) {
    std::vector<Turning> all;
    const bool holes = needs_hole(component);
    if (holes)
        for (const std::array<int, 2>& turn : turns(component, grid))
            all.push_back({turn, 0, angle_deg(turn, 0, grid)});
    if (!holes || component.mount.turns_freely)
        for (int step = 0; step < steps_in_a_turn; ++step)
            if (!holes || step % steps_in_a_quarter != 0) all.push_back({{0, 0}, step, angle_deg({0, 0}, step, grid)});
    std::sort(all.begin(), all.end(), [](const Turning& a, const Turning& b) { return a.deg < b.deg; });
    return all;
}

/// Between two directions, 0 to half a turn.
double between_deg(double a, double b) {
    const double off = std::fmod(std::abs(a - b), 360.0);
    return std::min(off, 360 - off);
}

Vec2 loose_corner(const Setup& setup, const Host& host) {
    if (host.kind != Host::Kind::table) return Vec2::Zero();
    return Vec2(-setup.table.margin_west_mm, -setup.table.margin_south_mm);
}

std::optional<Seat> first_loose_seat(const Asked& asked, const HostGrid& grid, const Vec3& pointer_T, Seat seat) {
    const Vec2 at = (grid.X_TH.inverse() * pointer_T).head<2>() - loose_corner(asked.setup, seat.host);
    if (!(at.cwiseAbs().maxCoeff() * 10 < furthest_tenths)) return {};
    seat.turn = {0, 0};
    seat.along_tenths = static_cast<std::int32_t>(std::lround(at.x() * 10));
    seat.across_tenths = static_cast<std::int32_t>(std::lround(at.y() * 10));
    return asked.stands(seat) ? std::optional(seat) : std::nullopt;
}

std::vector<Hole> holes_from(const HostGrid& grid, const Vec3& pointer_T) {
    const Vec3 at = grid.X_TH.inverse() * pointer_T;
    struct Far {
        double mm;
        Hole hole;
    };
    std::vector<Far> all;
    for (int col = 0; col < grid.cols; ++col)
        for (int row = 0; row < grid.rows; ++row)
            all.push_back({std::hypot(col * grid.pitch_x_mm - at.x(), row * grid.pitch_y_mm - at.y()), {col, row}});
    std::sort(all.begin(), all.end(),
              [](const Far& a, const Far& b) { return std::pair(a.mm, a.hole) < std::pair(b.mm, b.hole); });
    std::vector<Hole> holes;
    for (const Far& far : all) holes.push_back(far.hole);
    return holes;
}

/// Distance in the plane by which the point lies outside of the triangle; 0 inside.
double outside_mm(const std::array<Vec2, 3>& triangle, const Vec2& point) {
    double inside = std::numeric_limits<double>::infinity(), nearest = inside;
    const auto cross = [](const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); };
    const double area = cross(triangle[1] - triangle[0], triangle[2] - triangle[0]);
    for (std::size_t i = 0; i < 3; ++i) {
        const Vec2 edge = triangle[(i + 1) % 3] - triangle[i], from = point - triangle[i];
        inside = std::min(inside, cross(edge, from) * area);
        const double length = edge.squaredNorm();
        const double share = length > 0 ? std::clamp(from.dot(edge) / length, 0.0, 1.0) : 0.0;
        nearest = std::min(nearest, (from - share * edge).norm());
    }
    return area != 0 && inside >= 0 ? 0 : nearest;
}

/// A flat of the body lies in the face's plane at the point. Both in H.
bool body_reaches(const space::Mesh& body, const space::Pose& X_HC, const Vec3& point_H) {
    for (const auto& corners : body.triangles) {
        std::array<Vec2, 3> triangle;
        bool flat = true;
        for (std::size_t i = 0; i < 3 && flat; ++i) {
            const Vec3 corner = X_HC * body.points[corners[i]];
            flat = std::abs(corner.z()) <= limits::contact_mm;
            triangle[i] = corner.head<2>();
        }
        if (flat && outside_mm(triangle, point_H.head<2>()) <= limits::contact_mm) return true;
    }
    return false;
}

}  // namespace

std::optional<Seat> first_seat(const Setup& setup, const Stage& stage, const Component& component, const Host& host,
                               const Vec3& pointer_T) {
    const Result<HostGrid> grid = host_grid(setup, stage, host);
    if (!grid || !pointer_T.allFinite()) return {};
    const Asked asked{setup, stage, component, {}};
    Seat seat;
    seat.host = host;
    if (component.handed) seat.hand = shop::Hand::right;
    if (!component.plates.empty()) seat.plate = component.plates.front().id;
    if (component.setting) seat.setting = std::clamp(0, component.setting->first, component.setting->last);
    if (!needs_hole(component)) return first_loose_seat(asked, *grid, pointer_T, seat);

    if (!grid->has_holes || std::abs(component.mount.hole_mm - grid->hole_mm) > limits::hole_size_mm) return {};
    std::vector<Turning> facings = turnings(component, *grid);
    std::stable_sort(facings.begin(), facings.end(), [](const Turning& a, const Turning& b) {
        return between_deg(a.deg, 0) < between_deg(b.deg, 0) - limits::parallel_deg;
    });
    const std::vector<Hole> holes = holes_from(*grid, pointer_T);
    for (const Turning& facing : facings) {
        seat.turn = facing.turn;
        seat.turn_15deg = facing.turn_15deg;
        for (const Hole hole : holes) {
            seat.hole = hole;
            if (asked.stands(seat)) return seat;
        }
    }
    return {};
}

std::optional<Seat> next_hole(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                              PlacementId self, int columns, int rows) {
    const Asked asked{setup, stage, component, self};
    if (columns == 0 && rows == 0) return {};
    Seat next = seat;
    if (!needs_hole(component)) {
        const std::int64_t along = seat.along_tenths + std::int64_t{columns} * tenths_in_a_centimetre;
        const std::int64_t across = seat.across_tenths + std::int64_t{rows} * tenths_in_a_centimetre;
        if (std::max(std::abs(along), std::abs(across)) > furthest_tenths) return {};
        next.along_tenths = static_cast<std::int32_t>(along);
        next.across_tenths = static_cast<std::int32_t>(across);
        return asked.stands(next) ? std::optional(next) : std::nullopt;
    }
    const Result<HostGrid> grid = host_grid(setup, stage, seat.host);
    if (!grid || !grid->has_holes) return {};
    std::int64_t col = std::int64_t{seat.hole.col} + columns, row = std::int64_t{seat.hole.row} + rows;
    for (; col >= 0 && row >= 0 && col < grid->cols && row < grid->rows; col += sign(columns), row += sign(rows)) {
        next.hole = {static_cast<int>(col), static_cast<int>(row)};
        if (asked.stands(next)) return next;
    }
    return {};
}

std::optional<Seat> next_turn(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                              PlacementId self, int by) {
    const Asked asked{setup, stage, component, self};
    const Result<HostGrid> grid = host_grid(setup, stage, seat.host);
    if (!grid || by == 0 || (needs_hole(component) && has_no_facing(component))) return {};
    const std::vector<Turning> all = turnings(component, *grid);
    if (all.size() < 2) return {};
    const double now = angle_deg(seat.turn, seat.turn_15deg, *grid);
    const auto count = std::ssize(all);
    auto at = std::min_element(all.begin(), all.end(),
                               [&](const Turning& a, const Turning& b) {
                                   return between_deg(a.deg, now) < between_deg(b.deg, now);
                               }) -
              all.begin();
    Seat next = seat;
    for (int left = std::abs(by); left > 0;) {
        // At most once round: then no other turn stands here.
        for (auto tried = count; tried > 0; --tried) {
            at = (at + sign(by) + count) % count;
            next.turn = all[static_cast<std::size_t>(at)].turn;
            next.turn_15deg = all[static_cast<std::size_t>(at)].turn_15deg;
            if (asked.stands(next)) break;
            if (tried == 1) return {};
        }
        --left;
    }
    return next == seat ? std::nullopt : std::optional(next);
}

std::optional<Seat> other_hand(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                               PlacementId self) {
    if (!component.handed) return {};
    Seat next = seat;
    next.hand = seat.hand == shop::Hand::left ? shop::Hand::right : shop::Hand::left;
    return Asked{setup, stage, component, self}.stands(next) ? std::optional(next) : std::nullopt;
}

std::optional<Seat> next_setting(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                                 PlacementId self, int by) {
    if (!component.setting || by == 0) return {};
    const std::int64_t mark = std::int64_t{seat.setting} + by;
    if (mark < component.setting->first || mark > component.setting->last) return {};
    Seat next = seat;
    next.setting = static_cast<int>(mark);
    return Asked{setup, stage, component, self}.stands(next) ? std::optional(next) : std::nullopt;
}

std::optional<Seat> next_plate(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                               PlacementId self, int by) {
    const auto now = std::find_if(component.plates.begin(), component.plates.end(),
                                  [&](const shop::Plate& plate) { return plate.id == seat.plate; });
    if (now == component.plates.end() || by == 0) return {};
    const std::int64_t index = (now - component.plates.begin()) + std::int64_t{by};
    if (index < 0 || index >= std::ssize(component.plates)) return {};
    Seat next = seat;
    next.plate = component.plates[static_cast<std::size_t>(index)].id;
    return Asked{setup, stage, component, self}.stands(next) ? std::optional(next) : std::nullopt;
}

std::optional<Seat> next_packers(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                                 PlacementId self, Packer::Where where, int by) {
    if (by == 0) return {};
    const std::vector<PackerStack> stacks = packer_stacks(setup, component);
    const double now = stack_mm(seat, where);
    // First stack higher than this one; one that is as high lies right below it, where there is one.
    const auto higher =
        std::find_if(stacks.begin(), stacks.end(),
                     [&](const PackerStack& stack) { return stack.sum_mm > now + limits::coincident_mm; }) -
        stacks.begin();
    const auto lower =
        std::find_if(stacks.begin(), stacks.end(),
                     [&](const PackerStack& stack) { return stack.sum_mm >= now - limits::coincident_mm; }) -
        stacks.begin() - 1;
    const std::int64_t index = by > 0 ? std::int64_t{higher} + by - 1 : std::int64_t{lower} + by + 1;
    if (index < 0 || index >= std::ssize(stacks)) return {};
    Seat next = seat;
    std::erase_if(next.packers, [&](const Packer& packer) { return packer.where == where; });
    std::vector<Packer> stack;
    for (const Component* packer : stacks[static_cast<std::size_t>(index)].packers)
        stack.push_back({where, packer->id, packer->thickness_mm});
    // Under before face, as the callout writes them.
    next.packers.insert(where == Packer::Where::under ? next.packers.begin() : next.packers.end(), stack.begin(),
                        stack.end());
    return Asked{setup, stage, component, self}.stands(next) ? std::optional(next) : std::nullopt;
}

std::optional<Host> face_under(const Setup& setup, const Stage& stage, PlacementId placement, const Vec3& point_T,
                               const Vec3& normal_T) {
    const Placement* block = stage.find(placement);
    const Component* component = block ? setup.find_component(block->component) : nullptr;
    if (!component || component->grid_faces.empty() || !(normal_T.norm() > 0)) return {};
    const Result<Seated> here = seated(setup, stage, *component, block->seat, placement);
    if (!here) return {};
    std::optional<space::Mesh> body;
    for (const shop::GridFace& face : component->grid_faces) {
        Host host;
        host.kind = Host::Kind::placement;
        host.placement = placement;
        host.face = face.id;
        const Result<HostGrid> grid = host_grid(setup, stage, host);
        if (!grid) continue;
        const space::Pose X_HT = grid->X_TH.inverse();
        const Vec3 normal_H = X_HT.turn(normal_T.normalized());
        if (normal_H.z() < base::cos(Angle::deg(limits::face_word_deg))) continue;
        const Vec3 point_H = X_HT * point_T;
        if (!(std::abs(point_H.z()) <= limits::contact_mm)) continue;
        if (!body) {
            const shop::ComponentShape shape =
                shop::shape_of(*component, block->seat.plate, block->seat.hand, block->seat.setting);
            body = shop::mesh_of(shape.fixed);
            body->add(shop::mesh_of(shape.moving));
        }
        if (body_reaches(*body, X_HT * here->X_TC, point_H)) return host;
    }
    return {};
}

}  // namespace setwright::setup
