#include "core/setup/place.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <set>

#include "core/base/limits.h"
#include "core/setup/seating.h"

namespace setwright::setup {

namespace limits = base::limits;
using base::Angle;
using base::bad_input;
using base::Error;
using base::Result;
using shop::Component;
using shop::Hole;
using space::Pose;
using space::Vec2;
using space::Vec3;

namespace {

constexpr int steps_in_a_turn = 24;
constexpr int degrees_in_a_step = 15;

/// The holes as a person on that side reads them: on a left-hand part A1 is again the lower left one.
HostGrid grid_of(const shop::GridFace& face, shop::Hand hand, const Pose& X_TC) {
    const auto mirrored = [&](Vec3 v) {
        if (hand == shop::Hand::left) v.y() = -v.y();
        return v;
    };
    const Vec3 up = mirrored(face.up).normalized();
    Vec3 right = mirrored(face.right).normalized();
    Vec3 origin = mirrored(face.origin);
    const Vec3 out = mirrored(face.right.cross(face.up)).normalized();
    if (hand == shop::Hand::left) {
        origin += right * (face.pitch_right_mm * (face.cols - 1));
        right = -right;
    }
    space::Mat3 axes;
    axes << right, up, out;
    return {X_TC * Pose(axes, origin), true, face.pitch_right_mm, face.pitch_up_mm, face.hole_mm, face.cols, face.rows};
}

Result<Pose> piece_host(const Setup& setup, const Stage& stage, PieceId id, const FaceKey& key) {
    const weldment::Piece* piece = setup.find_piece(id);
    if (!piece) return bad_input({"seat.piece_missing", {}});
    const int face = weldment::find_face(*piece, key);
    if (face < 0) return bad_input({"seat.piece_face_missing", {{"piece", setup.piece_name(id)}}});
    if (piece->solid->faces[static_cast<std::size_t>(face)].surface.kind != space::SurfaceKind::plane)
        return bad_input({"seat.piece_face_not_flat", {{"piece", setup.piece_name(id)}}});
    return stage.lay.X_TM * piece->X_MP * face_frame(*piece, face);
}

Pose floor_host(const shop::Table& table, shop::TableSide side) {
    const double west = -table.margin_west_mm, south = -table.margin_south_mm, floor = -table.top_height_mm;
    switch (side) {
        case shop::TableSide::south:
            return Pose::move(west, south, floor);
        case shop::TableSide::north:
            return Pose::move(west, south + table.width_mm, floor);
        case shop::TableSide::west:
            return Pose::move(west, south, floor) * Pose::turn_z(Angle::deg(90));
        case shop::TableSide::east:
            return Pose::move(west + table.length_mm, south, floor) * Pose::turn_z(Angle::deg(90));
    }
    return {};
}

Result<Seated> seated_at(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                         PlacementId self, std::size_t depth);

/// `depth` counts hosts on the way down: more than there are placements is a loop.
Result<HostGrid> host_at(const Setup& setup, const Stage& stage, const Host& host, PlacementId self,
                         std::size_t depth) {
    switch (host.kind) {
        case Host::Kind::table: {
            const shop::Table& t = setup.table;
            return HostGrid{{}, true, t.pitch_x_mm, t.pitch_y_mm, t.hole_mm, t.cols, t.rows};
        }
        case Host::Kind::placement: {
            if ((self.valid() && host.placement == self) || depth > stage.placements.size())
                return bad_input({"seat.host_loop", {}});
            const Placement* below = stage.find(host.placement);
            if (!below) return bad_input({"seat.host_missing", {}});
            const Component* component = setup.find_component(below->component);
            if (!component) return bad_input({"seat.component_unknown", {{"component", below->component}}});
            const auto face = std::find_if(component->grid_faces.begin(), component->grid_faces.end(),
                                           [&](const shop::GridFace& f) { return f.id == host.face; });
            if (face == component->grid_faces.end())
                return bad_input({"seat.host_face_unknown", {{"no", std::int64_t{below->no}}, {"face", host.face}}});
            Result<Seated> base = seated_at(setup, stage, *component, below->seat, self, depth + 1);
            if (!base) return base.error();
            return grid_of(*face, below->seat.hand, base->X_TC);
        }
        case Host::Kind::piece:
        case Host::Kind::pieces: {
            const std::size_t needed = host.kind == Host::Kind::piece ? 1 : 2;
            if (host.pieces.size() != needed || host.piece_faces.size() != needed)
                return bad_input({"seat.piece_missing", {}});
            Result<Pose> first = piece_host(setup, stage, host.pieces[0], host.piece_faces[0]);
            if (!first) return first.error();
            if (needed == 2) {
                Result<Pose> second = piece_host(setup, stage, host.pieces[1], host.piece_faces[1]);
                if (!second) return second.error();
                const double sine = first->rotation().col(2).cross(second->rotation().col(2)).norm();
                if (sine > base::sin(Angle::deg(limits::parallel_deg)))
                    return bad_input({"seat.pieces_not_parallel", {}});
            }
            HostGrid grid;
            grid.X_TH = *first;
            return grid;
        }
        case Host::Kind::floor: {
            HostGrid grid;
            grid.X_TH = floor_host(setup.table, host.side);
            return grid;
        }
    }
    return bad_input({"seat.host_missing", {}});
}

bool on_grid(const HostGrid& grid, Hole hole) {
    return hole.col >= 0 && hole.row >= 0 && hole.col < grid.cols && hole.row < grid.rows;
}

bool blocked(const Setup& setup, const Host& host, Hole hole) {
    return host.kind == Host::Kind::table && setup.table.is_blocked(hole);
}

base::Text host_words(const Host& host) {
    return {host.kind == Host::Kind::table ? "seat.this_table" : "seat.that_face", {}};
}

Error hole_unknown(const Host& host, const HostGrid& grid, const std::string& said) {
    const std::string last = shop::hole_label({0, grid.rows - 1});
    return bad_input({"seat.hole_unknown",
                      {{"hole", said},
                       {"where", std::vector<base::Text>{host_words(host)}},
                       {"last_row", last.substr(0, last.size() - 1)},
                       {"columns", std::int64_t{grid.cols}}}});
}

/// Lattice steps from the datum hole to the holes that the second pin or slot meets, nearest first.
std::vector<std::array<int, 2>> second_steps(const shop::Mount::Second& second, const HostGrid& grid,
                                             const Pose& turn) {
    const Vec3 toward = turn.turn(Vec3(second.direction.x(), second.direction.y(), 0)).normalized();
    const std::array<double, 2> pitch{grid.pitch_x_mm, grid.pitch_y_mm};
    const std::array<double, 2> u{toward.x(), toward.y()};
    // Walk along the axis in which the direction crosses more holes; each step leaves one hole to look at.
    const std::size_t walk = std::abs(u[0]) * pitch[1] >= std::abs(u[1]) * pitch[0] ? 0 : 1;
    const std::size_t other = 1 - walk;
    const int sign = u[walk] > 0 ? 1 : -1;
    std::vector<std::array<int, 2>> steps;
    for (int k = 1;; ++k) {
        std::array<int, 2> step{};
        step[walk] = sign * k;
        step[other] = static_cast<int>(std::lround(step[walk] * pitch[walk] * u[other] / u[walk] / pitch[other]));
        const Vec2 v(step[0] * pitch[0], step[1] * pitch[1]);
        const double along = v.x() * u[0] + v.y() * u[1];
        const double aside = std::abs(v.y() * u[0] - v.x() * u[1]);
        // One step further along the walk is at least this much further along u.
        if (k * pitch[walk] * std::abs(u[walk]) > second.to_mm + limits::hole_fit_mm + pitch[other]) break;
        if (along < second.from_mm - limits::hole_fit_mm || along > second.to_mm + limits::hole_fit_mm) continue;
        if (aside <= limits::hole_fit_mm) steps.push_back(step);
    }
    return steps;
}

Pose turn_of(const HostGrid& grid, std::array<int, 2> turn) {
    return Pose::facing(turn[0] * grid.pitch_x_mm, turn[1] * grid.pitch_y_mm);
}

std::string joined(const std::vector<std::string>& words) {
    std::string text;
    for (const std::string& word : words) text += (text.empty() ? "" : ", ") + word;
    return text;
}

/// What does not depend on the host: plate, mark, hand, packers.
Result<void> check_choices(const Setup& setup, const Component& c, const Seat& seat) {
    const base::TextArgument name = c.id;
    if (!c.plates.empty() || !seat.plate.empty()) {
        std::vector<std::string> plates;
        for (const shop::Plate& plate : c.plates) plates.push_back(plate.id);
        const bool known = std::find(plates.begin(), plates.end(), seat.plate) != plates.end();
        if (plates.empty()) return bad_input({"seat.plate_none", {{"component", name}, {"plate", seat.plate}}});
        if (seat.plate.empty())
            return bad_input({"seat.plate_needed", {{"component", name}, {"plates", joined(plates)}}});
        if (!known)
            return bad_input(
                {"seat.plate_unknown", {{"component", name}, {"plate", seat.plate}, {"plates", joined(plates)}}});
    }
    const std::string mark = std::to_string(seat.setting);
    if (!c.setting && seat.setting != 0) return bad_input({"seat.mark_none", {{"component", name}, {"mark", mark}}});
    if (c.setting && (seat.setting < c.setting->first || seat.setting > c.setting->last))
        return bad_input({"seat.mark_unknown",
                          {{"component", name},
                           {"mark", mark},
                           {"first", std::to_string(c.setting->first)},
                           {"last", std::to_string(c.setting->last)}}});
    if (c.handed != (seat.hand != shop::Hand::none))
        return bad_input({c.handed ? "seat.hand_needed" : "seat.hand_none", {{"component", name}}});

    for (const Packer::Where where : {Packer::Where::under, Packer::Where::face}) {
        const auto count =
            std::count_if(seat.packers.begin(), seat.packers.end(), [&](const Packer& p) { return p.where == where; });
        if (count == 0) continue;
        if (where == Packer::Where::under && !c.packers_under)
            return bad_input({"seat.packers_not_under", {{"component", name}}});
        if (where == Packer::Where::face && !c.packers_at_face)
            return bad_input({"seat.packers_not_at_face", {{"component", name}}});
        if (count > limits::packers_in_stack)
            return bad_input({"seat.packers_too_many", {{"limit", std::int64_t{limits::packers_in_stack}}}});
        const double height = stack_mm(seat, where);
        if (height > limits::packer_stack_mm + limits::coincident_mm)
            return bad_input(
                {"seat.packers_too_high",
                 {{"limit", base::LengthArg{limits::packer_stack_mm}}, {"height", base::LengthArg{height}}}});
    }
    for (const Packer& packer : seat.packers) {
        const Component* definition = setup.find_component(packer.component);
        if (!definition) return bad_input({"seat.packer_not_in_job", {{"packer", packer.component}}});
        if (!(packer.thickness_mm > 0) ||
            std::abs(definition->thickness_mm - packer.thickness_mm) > limits::coincident_mm)
            return bad_input({"seat.packer_thickness", {{"packer", packer.component}}});
    }
    return {};
}

Result<Seated> loose_at(const Setup& setup, const Component& c, const Seat& seat, const HostGrid& grid) {
    if (seat.host.kind == Host::Kind::placement) return bad_input({"seat.no_loose_on_face", {{"component", c.id}}});
    if (seat.turn != std::array{0, 0} || seat.turn_15deg < 0 || seat.turn_15deg >= steps_in_a_turn)
        return bad_input({"seat.turn_steps", {{"component", c.id}}});
    // On the table the tenths count from its south-west corner; other hosts have their corner in H.
    Vec3 corner = Vec3::Zero();
    if (seat.host.kind == Host::Kind::table)
        corner = Vec3(-setup.table.margin_west_mm, -setup.table.margin_south_mm, 0);
    const Vec3 at(seat.along_tenths / 10.0, seat.across_tenths / 10.0, stack_mm(seat, Packer::Where::under));
    return Seated{
        grid, grid.X_TH * Pose::move(corner + at) * Pose::turn_z(Angle::deg(seat.turn_15deg * degrees_in_a_step)), {}};
}

/// The turn about the datum hole, or why the mount does not allow it.
Result<Pose> grid_turn(const Component& c, const Seat& seat, const HostGrid& grid) {
    const auto [p, q] = seat.turn;
    if (has_no_facing(c)) {
        if (seat.turn != std::array{1, 0} || seat.turn_15deg != 0)
            return bad_input({"seat.turn_none", {{"component", c.id}}});
        return Pose{};
    }
    if (p == 0 && q == 0) {
        if (!c.mount.turns_freely || seat.turn_15deg < 0 || seat.turn_15deg >= steps_in_a_turn)
            return bad_input({"seat.turn_steps", {{"component", c.id}}});
        return Pose::turn_z(Angle::deg(seat.turn_15deg * degrees_in_a_step));
    }
    const Pose turn = turn_of(grid, seat.turn);
    const bool allowed = std::gcd(p, q) == 1 && seat.turn_15deg == 0 &&
                         (c.mount.second ? !second_steps(*c.mount.second, grid, turn).empty() : p == 0 || q == 0);
    if (!allowed) {
        const bool compass = has_compass(seat.host);
        return bad_input({"seat.turn_not_allowed",
                          {{"component", c.id},
                           {"facing", facing_word(seat.turn, grid, compass)},
                           {"facings", facing_words(c, grid, compass)}}});
    }
    return turn;
}

Result<Seated> seated_at(const Setup& setup, const Stage& stage, const Component& c, const Seat& seat, PlacementId self,
                         std::size_t depth) {
    Result<HostGrid> host = host_at(setup, stage, seat.host, self, depth);
    if (!host) return host.error();
    const HostGrid& grid = *host;
    if (Result<void> choices = check_choices(setup, c, seat); !choices) return choices.error();
    if (!needs_hole(c)) return loose_at(setup, c, seat, grid);

    if (!grid.has_holes) return bad_input({"seat.needs_hole", {{"component", c.id}}});
    if (std::abs(c.mount.hole_mm - grid.hole_mm) > limits::hole_size_mm)
        return bad_input({"seat.hole_size",
                          {{"component", c.id},
                           {"need", base::LengthArg{c.mount.hole_mm}},
                           {"have", base::LengthArg{grid.hole_mm}}}});
    if (!on_grid(grid, seat.hole)) {
        std::string label = shop::hole_label(seat.hole);
        if (label.empty()) label = std::to_string(seat.hole.col + 1) + "/" + std::to_string(seat.hole.row + 1);
        return hole_unknown(seat.host, grid, label);
    }
    if (blocked(setup, seat.host, seat.hole))
        return bad_input({"seat.hole_blocked", {{"hole", shop::hole_label(seat.hole)}}});
    Result<Pose> turn = grid_turn(c, seat, grid);
    if (!turn) return turn.error();

    std::optional<Hole> second_hole;
    if (c.mount.second) {
        bool met_blocked = false;
        for (const auto& step : second_steps(*c.mount.second, grid, *turn)) {
            const Hole hole{seat.hole.col + step[0], seat.hole.row + step[1]};
            if (!on_grid(grid, hole)) continue;
            met_blocked = blocked(setup, seat.host, hole);
            if (met_blocked) continue;
            second_hole = hole;
            break;
        }
        if (!second_hole)
            return bad_input({met_blocked ? "seat.second_hole_blocked" : "seat.second_hole_off",
                              {{"component", c.id},
                               {"hole", shop::hole_label(seat.hole)},
                               {"facing", facing_word(seat.turn, grid, has_compass(seat.host))},
                               {"where", std::vector<base::Text>{host_words(seat.host)}}}});
    }

    Vec3 at(seat.hole.col * grid.pitch_x_mm, seat.hole.row * grid.pitch_y_mm, stack_mm(seat, Packer::Where::under));
    if (seat.host.kind == Host::Kind::table) {
        for (const shop::Table::Deviation& d : setup.table.deviations)
            if (d.hole == seat.hole) at += Vec3(d.dx_mm, d.dy_mm, 0);
    }
    return Seated{grid, grid.X_TH * Pose::move(at) * *turn, second_hole};
}

bool same_grid(const Host& a, const Host& b) {
    return a.kind == b.kind && (a.kind == Host::Kind::table ||
                                (a.kind == Host::Kind::placement && a.placement == b.placement && a.face == b.face));
}

/// A washer about the datum hole, within the footprint.
double packer_diameter_mm(const shop::Mount& mount) {
    constexpr double hole_diameters = 3;
    constexpr double without_hole_mm = 40;
    double diameter = mount.hole_mm > 0 ? hole_diameters * mount.hole_mm : without_hole_mm;
    if (!mount.footprint.empty()) {
        Vec2 low = mount.footprint.front(), high = low;
        for (const Vec2& p : mount.footprint) {
            low = low.cwiseMin(p);
            high = high.cwiseMax(p);
        }
        diameter = std::min(diameter, (high - low).minCoeff());
    }
    return diameter;
}

bool along_an_axis(const Vec3& v) {
    return v.cwiseAbs().maxCoeff() == 1;
}

/// A packer between a plane face and the piece, `from` to `to` along the face's normal.
shop::BodyPart face_packer(const shop::LocatingFace& face, double from_mm, double to_mm) {
    shop::BodyPart body;
    const Vec3 low = face.point + face.up * face.from_mm, high = face.point + face.up * face.to_mm;
    if (along_an_axis(face.normal) && along_an_axis(face.up)) {
        const Vec3 aside = face.up.cross(face.normal) * (face.width_mm / 2);
        space::Aabb box;
        for (const Vec3& end : {low, high})
            for (const double side : {-1.0, 1.0})
                for (const double depth : {from_mm, to_mm}) box.add(end + side * aside + depth * face.normal);
        body.kind = shop::BodyPart::Kind::box;
        body.min = box.min;
        body.max = box.max;
    } else {
        // A leaning face: boxes lie along C's axes, so the largest disc of the band stands for the packer.
        body.kind = shop::BodyPart::Kind::cylinder;
        body.from = (low + high) / 2 + from_mm * face.normal;
        body.to = (low + high) / 2 + to_mm * face.normal;
        body.diameter_mm = std::min(face.to_mm - face.from_mm, face.width_mm);
    }
    body.moving = face.moving;
    return body;
}

/// Packers go on the first locating plane and those that look the same way; a corner's other side stays as it is.
void put_packers_at_face(const Seat& seat, std::vector<shop::LocatingFace>& faces,
                         std::vector<shop::BodyPart>& bodies) {
    const double sum = stack_mm(seat, Packer::Where::face);
    if (sum == 0) return;
    const auto first = std::find_if(faces.begin(), faces.end(), [](const shop::LocatingFace& f) {
        return f.locates && f.shape == shop::FaceShape::plane;
    });
    if (first == faces.end()) return;
    const Vec3 normal = first->normal;
    for (shop::LocatingFace& face : faces) {
        if (!face.locates || face.shape != shop::FaceShape::plane || face.normal != normal) continue;
        double from = 0;
        for (const Packer& packer : seat.packers) {
            if (packer.where != Packer::Where::face) continue;
            bodies.push_back(face_packer(face, from, from + packer.thickness_mm));
            from += packer.thickness_mm;
        }
        face.point += sum * face.normal;
    }
}

void put_packers_under(const Component& component, const Seat& seat, std::vector<shop::BodyPart>& bodies) {
    double top = 0;
    for (const Packer& packer : seat.packers) {
        if (packer.where != Packer::Where::under) continue;
        shop::BodyPart body;
        body.kind = shop::BodyPart::Kind::cylinder;
        body.to = Vec3(0, 0, top);
        body.from = Vec3(0, 0, top - packer.thickness_mm);
        body.diameter_mm = packer_diameter_mm(component.mount);
        bodies.push_back(body);
        top -= packer.thickness_mm;
    }
}

double highest(const shop::BodyPart& part, const Pose& X_TC) {
    const Vec3 rise = X_TC.rotation().row(2);
    double top = -std::numeric_limits<double>::infinity();
    switch (part.kind) {
        case shop::BodyPart::Kind::box:
        case shop::BodyPart::Kind::step:
            top = rise.cwiseProduct(part.min).cwiseMax(rise.cwiseProduct(part.max)).sum();
            break;
        case shop::BodyPart::Kind::cylinder: {
            const Vec3 axis = (part.to - part.from).normalized();
            const double edge = part.diameter_mm / 2 * std::sqrt(std::max(0.0, 1 - std::pow(rise.dot(axis), 2)));
            top = std::max(rise.dot(part.from), rise.dot(part.to)) + edge;
            break;
        }
        case shop::BodyPart::Kind::prism:
            for (const Vec2& p : part.outline)
                for (const double y : {part.y0_mm, part.y1_mm}) top = std::max(top, rise.dot(Vec3(p.x(), y, p.y())));
            break;
    }
    return top + X_TC.position().z();
}

}  // namespace

bool needs_hole(const Component& component) {
    return component.mount.kind == shop::MountKind::bolted || component.mount.kind == shop::MountKind::drop_in;
}

bool has_no_facing(const Component& component) {
    return !component.mount.second && !component.mount.turns_freely;
}

double stack_mm(const Seat& seat, Packer::Where where) {
    double sum = 0;
    for (const Packer& packer : seat.packers)
        if (packer.where == where) sum += packer.thickness_mm;
    return sum;
}

bool has_compass(const Host& host) {
    return host.kind == Host::Kind::table;
}

space::Pose face_frame(const weldment::Piece& piece, int index) {
    const space::Face& face = piece.solid->faces[static_cast<std::size_t>(index)];
    const Vec3 out = face.surface.axis.normalized();
    const auto laid = [&](const Vec3& v) { return Vec3((v - out * out.dot(v)).normalized()); };
    space::Aabb box;
    for (const space::Loop& loop : face.loops)
        for (const Vec3& p : loop.polyline) box.add(p);
    Vec3 along = Vec3::UnitZ();
    if (std::abs(out.z()) > base::cos(Angle::deg(limits::end_face_deg)))
        along = box.size().y() > box.size().x() + limits::coincident_mm ? Vec3::UnitY() : Vec3::UnitX();
    along = laid(along);
    const Vec3 across = out.cross(along);
    double lowest_along = std::numeric_limits<double>::infinity(), lowest_across = lowest_along;
    for (const space::Loop& loop : face.loops) {
        for (const Vec3& p : loop.polyline) {
            lowest_along = std::min(lowest_along, along.dot(p));
            lowest_across = std::min(lowest_across, across.dot(p));
        }
    }
    space::Mat3 axes;
    axes << along, across, out;
    return {axes, along * lowest_along + across * lowest_across + out * out.dot(face.surface.point)};
}

Setup with_packers(Setup setup, const shop::Catalogue& catalogue) {
    for (const auto& component : catalogue.components)
        if (component->family == shop::Family::packer) setup.components.emplace(component->id, component);
    return setup;
}

Result<Seated> seated(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                      PlacementId self) {
    return seated_at(setup, stage, component, seat, self, 0);
}

Result<void> holes_free(const Setup& setup, const Stage& stage, const Component& component, const Seat& seat,
                        const Seated& here, PlacementId self) {
    if (!needs_hole(component)) return {};
    for (const Placement& other : stage.placements) {
        if (other.id == self || !same_grid(other.seat.host, seat.host)) continue;
        const Component* its = setup.find_component(other.component);
        if (!its || !needs_hole(*its)) continue;
        std::array<std::optional<Hole>, 2> used{other.seat.hole, {}};
        if (its->mount.second) {
            // A neighbour whose own seat is broken still holds its datum hole; it gets its own finding.
            if (const Result<Seated> there = seated(setup, stage, *its, other.seat, other.id))
                used[1] = there->second_hole;
        }
        for (const std::optional<Hole>& mine : {std::optional<Hole>(seat.hole), here.second_hole}) {
            if (mine && (mine == used[0] || mine == used[1]))
                return bad_input(
                    {"seat.hole_taken", {{"hole", shop::hole_label(*mine)}, {"no", std::int64_t{other.no}}}});
        }
    }
    return {};
}

Result<HostGrid> host_grid(const Setup& setup, const Stage& stage, const Host& host) {
    return host_at(setup, stage, host, {}, 0);
}

Result<Posed> pose(const Setup& setup, const Stage& stage, const Placement& placement) {
    const Component* component = setup.find_component(placement.component);
    if (!component) return bad_input({"seat.component_unknown", {{"component", placement.component}}});
    const Seat& seat = placement.seat;
    Result<Seated> here = seated(setup, stage, *component, seat, placement.id);
    if (!here) return here.error();

    Posed posed;
    posed.id = placement.id;
    posed.X_TC = here->X_TC;
    posed.second_hole = here->second_hole;
    shop::ComponentShape shape = shop::shape_of(*component, seat.plate, seat.hand, seat.setting);
    std::vector<shop::BodyPart> packers;
    put_packers_at_face(seat, shape.faces, packers);
    put_packers_under(*component, seat, packers);
    for (const shop::LocatingFace& face : shape.faces)
        posed.faces.push_back({face.id, face.shape, posed.X_TC * face.point, posed.X_TC.turn(face.normal),
                               posed.X_TC.turn(face.up), face.from_mm, face.to_mm, face.width_mm, face.diameter_mm,
                               face.v_angle_deg, face.locates, face.relieved});
    posed.fixed = std::move(shape.fixed);
    posed.fixed.insert(posed.fixed.end(), packers.begin(), packers.end());
    posed.moving = std::move(shape.moving);
    posed.height_mm = posed.X_TC.position().z();
    for (const auto* parts : {&posed.fixed, &posed.moving})
        for (const shop::BodyPart& part : *parts)
            posed.height_mm = std::max(posed.height_mm, highest(part, posed.X_TC));
    return posed;
}

Result<void> check_seat(const Setup& setup, const Stage& stage, const Placement& placement) {
    const Component* component = setup.find_component(placement.component);
    if (!component) return bad_input({"seat.component_unknown", {{"component", placement.component}}});
    Result<Seated> here = seated(setup, stage, *component, placement.seat, placement.id);
    if (!here) return here.error();
    return holes_free(setup, stage, *component, placement.seat, *here, placement.id);
}

std::vector<std::array<int, 2>> turns(const Component& component, const HostGrid& grid) {
    if (!grid.has_holes) return {};
    if (has_no_facing(component)) return {{1, 0}};
    if (!component.mount.second) return {{1, 0}, {0, 1}, {-1, 0}, {0, -1}};

    const shop::Mount::Second& second = *component.mount.second;
    const double furthest = second.to_mm + limits::hole_fit_mm;
    const Pose undo = Pose::facing(second.direction.x(), second.direction.y()).inverse();
    std::set<std::array<int, 2>> found;
    const int cols = static_cast<int>(furthest / grid.pitch_x_mm), rows = static_cast<int>(furthest / grid.pitch_y_mm);
    for (int a = -cols; a <= cols; ++a) {
        for (int b = -rows; b <= rows; ++b) {
            const double distance = std::hypot(a * grid.pitch_x_mm, b * grid.pitch_y_mm);
            if (distance < second.from_mm - limits::hole_fit_mm || distance > furthest || (a == 0 && b == 0)) continue;
            // C's x for which the second hole is this one; then the first lattice vector that hits it within the fit.
            const Vec3 x = undo.turn(Vec3(a * grid.pitch_x_mm, b * grid.pitch_y_mm, 0));
            const double u = x.x() / grid.pitch_x_mm, v = x.y() / grid.pitch_y_mm;
            const double scale = std::max(std::abs(u), std::abs(v));
            for (int m = 1; m <= std::max(cols, rows); ++m) {
                const std::array<int, 2> turn{static_cast<int>(std::lround(m * u / scale)),
                                              static_cast<int>(std::lround(m * v / scale))};
                const Vec3 lattice = turn_of(grid, turn).turn(Vec3::UnitX());
                if ((lattice * distance - x).norm() > limits::hole_fit_mm) continue;
                if (std::gcd(turn[0], turn[1]) == 1) found.insert(turn);
                break;
            }
        }
    }
    std::vector<std::array<int, 2>> sorted(found.begin(), found.end());
    const auto order = [&](const std::array<int, 2>& t) {
        const double angle = std::atan2(t[1] * grid.pitch_y_mm, t[0] * grid.pitch_x_mm);
        return std::pair(std::abs(t[0]) + std::abs(t[1]), angle < 0 ? angle + 2 * std::numbers::pi : angle);
    };
    std::sort(sorted.begin(), sorted.end(), [&](const auto& a, const auto& b) { return order(a) < order(b); });
    return sorted;
}

std::optional<Seat> nearest_seat(const Setup& setup, const Stage& stage, const Component& component, const Seat& like,
                                 const Vec3& pointer_T) {
    const Result<HostGrid> host = host_grid(setup, stage, like.host);
    if (!host) return {};
    const Vec3 at = host->X_TH.inverse() * pointer_T;
    // The seat of a placement that is being dragged does not bar its own holes.
    PlacementId self;
    for (const Placement& placement : stage.placements)
        if (placement.component == component.id && placement.seat == like) self = placement.id;

    Seat seat = like;
    const auto stands = [&] {
        const Result<Seated> here = seated(setup, stage, component, seat, self);
        return here && holes_free(setup, stage, component, seat, *here, self).ok();
    };
    if (!needs_hole(component)) {
        Vec2 corner = Vec2::Zero();
        if (like.host.kind == Host::Kind::table)
            corner = Vec2(-setup.table.margin_west_mm, -setup.table.margin_south_mm);
        if (!(at.cwiseAbs().maxCoeff() < 1e7)) return {};
        seat.along_tenths = static_cast<std::int32_t>(std::lround((at.x() - corner.x()) * 10));
        seat.across_tenths = static_cast<std::int32_t>(std::lround((at.y() - corner.y()) * 10));
        return stands() ? std::optional<Seat>(seat) : std::nullopt;
    }
    if (!host->has_holes) return {};

    // The grid may be another than the one `like` was on: the facing nearest to it that the mount allows here.
    if (seat.turn != std::array{0, 0}) {
        const std::vector<std::array<int, 2>> allowed = turns(component, *host);
        if (allowed.empty()) return {};
        const Vec3 wanted = turn_of(*host, like.turn).turn(Vec3::UnitX());
        if (std::find(allowed.begin(), allowed.end(), like.turn) == allowed.end())
            seat.turn = *std::max_element(allowed.begin(), allowed.end(), [&](const auto& a, const auto& b) {
                return turn_of(*host, a).turn(Vec3::UnitX()).dot(wanted) <
                       turn_of(*host, b).turn(Vec3::UnitX()).dot(wanted) - limits::coincident_mm;
            });
    }
    const Hole middle{static_cast<int>(std::lround(std::clamp(at.x() / host->pitch_x_mm, 0.0, host->cols - 1.0))),
                      static_cast<int>(std::lround(std::clamp(at.y() / host->pitch_y_mm, 0.0, host->rows - 1.0)))};
    const auto distance = [&](Hole hole) {
        return std::hypot(hole.col * host->pitch_x_mm - at.x(), hole.row * host->pitch_y_mm - at.y());
    };
    std::vector<Hole> around;
    constexpr int reach = 8;
    for (int col = middle.col - reach; col <= middle.col + reach; ++col)
        for (int row = middle.row - reach; row <= middle.row + reach; ++row)
            if (on_grid(*host, {col, row})) around.push_back({col, row});
    std::sort(around.begin(), around.end(),
              [&](Hole a, Hole b) { return std::pair(distance(a), a) < std::pair(distance(b), b); });
    for (const Hole hole : around) {
        seat.hole = hole;
        if (stands()) return seat;
    }
    return {};
}

}  // namespace setwright::setup
