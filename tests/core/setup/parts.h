#pragma once

#include "core/setup/place.h"
#include "tests/core/setup/example.h"

/// Parts and pieces made by hand, for the tests of seats.
namespace setwright::setup {

using space::Pose;
using space::Vec2;
using space::Vec3;

/// An upright stop with marks 5 apart: face at x = 25 at mark 0, band 5 to 95, 40 wide; packers under and at the face.
/// Its slot takes a second pin 45 to 75 behind: along the rows, and along the diagonal of a 50 grid.
inline shop::Component stop_part() {
    shop::Component c;
    c.id = "stop";
    c.family = shop::Family::index_stop;
    c.mount.hole_mm = 16;
    c.mount.pitch_mm = 50;
    c.mount.second = shop::Mount::Second{45, 75, Vec2(-1, 0)};
    c.mount.footprint = {{-85, -20}, {25, -20}, {25, 20}, {-85, 20}};
    shop::BodyPart body;
    body.min = Vec3(-85, -20, 0);
    body.max = Vec3(25, 20, 100);
    c.body.push_back(body);
    shop::LocatingFace face;
    face.id = "front";
    face.point = Vec3(25, 0, 0);
    face.from_mm = 5;
    face.to_mm = 95;
    face.width_mm = 40;
    face.moving = true;
    c.faces.push_back(face);
    c.setting = shop::Setting{Vec3::UnitX(), 5, 0, 9};
    c.packers_under = c.packers_at_face = true;
    return c;
}

/// A stop whose second pin may be anywhere in a long slot: slopes such as 8:5.
inline shop::Component slotted_part() {
    shop::Component c = stop_part();
    c.id = "slotted";
    c.mount.second = shop::Mount::Second{40, 480, Vec2(-1, 0)};
    return c;
}

/// An upright face 200 tall at x = 20 with a 25 grid of 8 × 6 holes, A1 75 to the right-hand side and 30 up.
inline shop::Component angle_plate_part() {
    shop::Component c;
    c.id = "angle";
    c.family = shop::Family::angle_plate;
    c.mount.hole_mm = 16;
    c.mount.second = shop::Mount::Second{100, 100, Vec2(0, 1)};
    c.handed = true;
    shop::BodyPart body;
    body.min = Vec3(0, -100, 0);
    body.max = Vec3(20, 150, 200);
    c.body.push_back(body);
    shop::GridFace grid;
    grid.id = "A";
    grid.origin = Vec3(20, -75, 30);
    grid.pitch_right_mm = grid.pitch_up_mm = 25;
    grid.cols = 8;
    grid.rows = 6;
    grid.hole_mm = 16;
    c.grid_faces.push_back(grid);
    c.packers_under = true;
    return c;
}

/// A drop-in rest, 50 high, Ø 40 on top.
inline shop::Component rest_part() {
    shop::Component c;
    c.id = "rest";
    c.family = shop::Family::rest;
    c.mount.kind = shop::MountKind::drop_in;
    c.mount.hole_mm = 16;
    shop::BodyPart body;
    body.kind = shop::BodyPart::Kind::cylinder;
    body.to = Vec3(0, 0, 50);
    body.diameter_mm = 40;
    c.body.push_back(body);
    shop::LocatingFace top;
    top.id = "top";
    top.point = Vec3(0, 0, 50);
    top.normal = Vec3::UnitZ();
    top.up = Vec3::UnitY();
    top.from_mm = -20;
    top.to_mm = 20;
    top.width_mm = 40;
    c.faces.push_back(top);
    c.packers_under = true;
    return c;
}

inline shop::Component clamp_part() {
    shop::Component c;
    c.id = "clamp";
    c.family = shop::Family::down_clamp;
    c.mount.hole_mm = 16;
    c.mount.turns_freely = true;
    c.setting = shop::Setting{Vec3::UnitX(), 10, -2, 5};
    return c;
}

inline shop::Component magnet_part() {
    shop::Component c;
    c.id = "magnet";
    c.family = shop::Family::magnet;
    c.mount.kind = shop::MountKind::magnet;
    return c;
}

inline shop::Component packer_part(const std::string& id, double thickness_mm) {
    shop::Component c;
    c.id = id;
    c.family = shop::Family::packer;
    c.thickness_mm = thickness_mm;
    return c;
}

/// A bar from `min` to `max` in P, lying in M by X_MP; faces in the order -x, +x, -y, +y, -z, +z.
inline weldment::Piece bar_piece(std::uint32_t id, const std::string& name, const Vec3& min, const Vec3& max,
                                 const Pose& X_MP = {}) {
    auto solid = std::make_shared<space::Solid>();
    for (int axis = 0; axis < 3; ++axis) {
        for (const bool high : {false, true}) {
            space::Face face;
            face.surface.kind = space::SurfaceKind::plane;
            face.surface.axis = Vec3::Unit(axis) * (high ? 1 : -1);
            const Vec3 u = Vec3::Unit((axis + 1) % 3), v = face.surface.axis.cross(u);
            const Vec3 middle = (min + max) / 2, half = (max - min) / 2;
            face.centroid = middle + face.surface.axis * half[axis];
            face.surface.point = face.centroid;
            space::Loop loop;
            loop.outer = true;
            for (const auto& [a, b] : {std::pair(-1, -1), std::pair(1, -1), std::pair(1, 1), std::pair(-1, 1)})
                loop.polyline.push_back(face.centroid + a * u * half.dot(u.cwiseAbs()) +
                                        b * v * half.dot(v.cwiseAbs()));
            for (const Vec3& p : loop.polyline) face.box.add(p);
            face.area_mm2 = 4 * half.dot(u.cwiseAbs()) * half.dot(v.cwiseAbs());
            face.loops.push_back(loop);
            solid->faces.push_back(face);
        }
    }
    solid->box.add(min);
    solid->box.add(max);
    solid->mesh = space::box_mesh(min, max);
    weldment::Piece piece;
    piece.id = PieceId{id};
    piece.name = name;
    piece.solid = solid;
    piece.X_MP = X_MP;
    return piece;
}

/// A 50 grid of 12 × 10 holes Ø 16 with the packers 0.5, 1, 2, 5, 10 and 20, three of each; one stage.
inline Setup seat_setup() {
    Setup setup;
    setup.table.id = "small";
    setup.table.pitch_x_mm = setup.table.pitch_y_mm = 50;
    setup.table.hole_mm = 16;
    setup.table.cols = 12;
    setup.table.rows = 10;
    setup.table.margin_west_mm = setup.table.margin_south_mm = 25;
    setup.table.length_mm = 600;
    setup.table.width_mm = 500;
    setup.table.top_height_mm = 850;
    const auto add = [&](shop::Component c) {
        const std::string id = c.id;
        setup.components[id] = std::make_shared<const shop::Component>(std::move(c));
    };
    for (const shop::Component& c :
         {stop_part(), slotted_part(), angle_plate_part(), rest_part(), clamp_part(), magnet_part()})
        add(c);
    for (const double t : {0.5, 1.0, 2.0, 5.0, 10.0, 20.0}) {
        const std::string id = "packer-" + base::number_text(t);
        add(packer_part(id, t));
        setup.shelf.count[id] = 3;
    }
    setup.last_id = 100;
    Stage stage;
    stage.id = StageId{1};
    setup.stages.push_back(stage);
    return setup;
}

inline void add_pieces(Setup& setup, std::vector<weldment::Piece> pieces) {
    auto model = std::make_shared<weldment::Weldment>();
    for (const weldment::Piece& piece : pieces) setup.stages[0].pieces.push_back(piece.id);
    model->pieces = std::move(pieces);
    WeldmentUse use;
    use.id = WeldmentId{1};
    use.model = model;
    setup.weldments.push_back(use);
}

inline Placement placement_of(const std::string& component, const Seat& seat, std::uint32_t id = 50, int no = 1) {
    Placement placement;
    placement.id = PlacementId{id};
    placement.no = no;
    placement.component = component;
    placement.seat = seat;
    return placement;
}

inline Seat seat_at(int col, int row, std::array<int, 2> turn = {1, 0}) {
    Seat seat;
    seat.hole = {col, row};
    seat.turn = turn;
    return seat;
}

inline Packer packer_of(Packer::Where where, double thickness_mm) {
    return {where, "packer-" + base::number_text(thickness_mm), thickness_mm};
}

}  // namespace setwright::setup
