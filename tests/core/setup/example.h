#pragma once

#include "core/base/file.h"
#include "core/setup/edit.h"
#include "core/setup/job_file.h"
#include "core/setup/match.h"

/// A small job made by hand, without reading any model.
namespace setwright::setup {

/// Inside a test `Setup` is a name of the test framework.
using Job = Setup;

inline shop::Table example_table() {
    shop::Table table;
    table.id = "grid50";
    table.name = "50 grid";
    table.pitch_x_mm = table.pitch_y_mm = 50;
    table.hole_mm = 16;
    table.cols = 48;
    table.rows = 24;
    table.margin_west_mm = table.margin_south_mm = 25;
    table.length_mm = 2400;
    table.width_mm = 1200;
    table.thickness_mm = 25;
    table.top_height_mm = 850;
    table.walkable = {shop::TableSide::south, shop::TableSide::east};
    return table;
}

/// A block bolted through two holes, 100 tall, with a grid of holes on the face that looks along its x.
inline std::shared_ptr<const shop::Component> example_component(const std::string& id = "block") {
    shop::Component c;
    c.id = id;
    c.family = shop::Family::angle_plate;
    c.size = "100";
    c.mount.hole_mm = 16;
    c.mount.pitch_mm = 50;
    c.mount.second = shop::Mount::Second{50, 50, space::Vec2(-1, 0)};
    c.mount.bolts = 2;
    c.mount.footprint = {{-75, -25}, {25, -25}, {25, 25}, {-75, 25}};
    shop::BodyPart body;
    body.min = space::Vec3(-75, -25, 0);
    body.max = space::Vec3(25, 25, 100);
    c.body.push_back(body);
    shop::LocatingFace face;
    face.id = "front";
    face.point = space::Vec3(25, 0, 0);
    face.to_mm = 100;
    face.width_mm = 50;
    c.faces.push_back(face);
    shop::GridFace grid;
    grid.id = "front";
    grid.origin = space::Vec3(25, 0, 25);
    grid.pitch_right_mm = grid.pitch_up_mm = 25;
    grid.cols = 1;
    grid.rows = 3;
    grid.hole_mm = 16;
    c.grid_faces.push_back(grid);
    c.mass_kg = 3.5;
    c.overall_height_mm = 100;
    return std::make_shared<const shop::Component>(std::move(c));
}

inline std::shared_ptr<const shop::Component> example_packer(const std::string& id, double thickness_mm) {
    shop::Component c = *example_component(id);
    c.family = shop::Family::packer;
    c.thickness_mm = thickness_mm;
    return std::make_shared<const shop::Component>(std::move(c));
}

/// A bar from `min` to `max` in M, P's axes as M's, origin at `min`.
inline weldment::Piece bar(std::uint32_t id, const std::string& name, const space::Vec3& min, const space::Vec3& max) {
    weldment::Piece piece;
    piece.id = PieceId{id};
    piece.name = name;
    piece.X_MP = space::Pose::move(min);
    space::Solid solid;
    solid.mesh = space::box_mesh(space::Vec3::Zero(), max - min);
    solid.box.add(space::Vec3::Zero());
    solid.box.add(max - min);
    const space::Vec3 size = max - min;
    solid.volume_mm3 = size.prod();
    piece.solid = std::make_shared<const space::Solid>(std::move(solid));
    piece.length_mm = size.z();
    piece.fingerprint.name_path = {"frame", name};
    piece.fingerprint.volume_mm3 = size.prod();
    // Box about its centroid: V (b² + c²) / 12.
    const space::Vec3 s = size.cwiseProduct(size);
    piece.fingerprint.principal_moments = size.prod() / 12 * space::Vec3(s.y() + s.z(), s.x() + s.z(), s.x() + s.y());
    piece.fingerprint.face_kinds = {6, 0, 0, 0, 0, 0, 0};
    piece.fingerprint.centroid_M = (min + max) / 2;
    return piece;
}

inline weldment::Seam seam(std::uint32_t id, std::uint32_t a, std::uint32_t b, const space::Vec3& from,
                           const space::Vec3& to) {
    weldment::Seam seam;
    seam.id = SeamId{id};
    seam.pieces = {PieceId{a}, PieceId{b}};
    seam.path_M = {from, to};
    seam.length_mm = (to - from).norm();
    return seam;
}

/// Two bars that meet in an L, two welds between them.
inline weldment::Weldment example_model() {
    weldment::Weldment model;
    model.pieces = {bar(1, "post", {0, 0, 0}, {50, 50, 800}), bar(2, "foot", {50, 0, 0}, {450, 50, 30})};
    model.seams = {seam(1, 2, 1, {50, 0, 30}, {50, 50, 30}), seam(2, 2, 1, {50, 0, 0}, {50, 0, 30})};
    for (const auto& piece : model.pieces) model.box_M.add(piece.solid->box.moved(piece.X_MP));
    return model;
}

inline WeldmentUse example_weldment() {
    WeldmentUse use;
    use.file_name = "l.step";
    use.step_text = std::make_shared<const std::string>("ISO-10303-21;\nHEADER;\nENDSEC;\n");
    use.sha256 = base::sha256(*use.step_text);
    auto model = std::make_shared<weldment::Weldment>(example_model());
    freeze(use, *model);
    use.model = std::move(model);
    return use;
}

inline Setup example_job() {
    return new_job(example_weldment(), example_table(), {"shelf", "Shelf", {{"block", 4}}});
}

/// Every field of the document set to something that is not its default.
inline Setup full_job() {
    Setup setup = example_job();
    WeldmentUse& use = setup.weldments[0];
    const FaceKey face{space::SurfaceKind::cylinder, space::Vec3(0, 0.6, 0.8), 1.25, 8.5, space::Vec3(1, 2.5, -3)};
    use.linked_path = "/nowhere/l.step";
    use.unit_factor = 25.4;
    use.mirrored = true;
    use.piece_edits[PieceId{1}] = {"mast", true, face};
    use.piece_edits[PieceId{2}] = {"shoe", false, {}};
    use.seam_edits[SeamId{1}] = {true, 4.0};
    use.seam_edits[SeamId{2}] = {false, {}};
    use.frozen[PieceId{1}].fingerprint.handedness = -1;
    DrawnPiece drawn;
    drawn.id = PieceId{setup.next_id()};
    drawn.name = "brace";
    drawn.section = {weldment::SectionKind::rect_tube, 60, 40, 3, 1.5, 6};
    drawn.length_mm = 400.5;
    drawn.ends[0] = {weldment::EndKind::mitre, 45, 90, 0.5, 2};
    drawn.ends[1] = {weldment::EndKind::compound, 30, 180, 12.5, 3};
    drawn.X_MP = space::Pose::move(1, 2, 3) * space::Pose::turn_z(base::Angle::deg(30));
    use.drawn = {drawn};
    use.important = {{PieceId{2}, face, 0.25, "bearing seat"}};

    Stage& first = setup.stages[0];
    first.name = "flat frame";
    first.lay = {"-Y", 30,
                 space::Pose::move(75, 875, 75) * space::Pose::turn_z(base::Angle::deg(30)) *
                     space::Pose::turn_x(base::Angle::deg(90))};
    first.pieces = {PieceId{1}, PieceId{2}, drawn.id};
    first.held_by = {{PieceId{1}, HeldBy::nested}, {PieceId{2}, HeldBy::by_hand}};
    setup.components["block"] = example_component();
    setup.components["clamp"] = example_component("clamp");
    setup.components["packer-10"] = example_packer("packer-10", 10);
    setup.components["packer-2"] = example_packer("packer-2", 2);
    Placement block;
    block.id = PlacementId{setup.next_id()};
    block.no = 1;
    block.component = "block";
    block.seat.hole = {10, 12};
    block.seat.turn = {8, 5};
    block.seat.hand = shop::Hand::left;
    block.seat.plate = "100V";
    block.seat.setting = 6;
    block.seat.packers = {{Packer::Where::under, "packer-10", 10}, {Packer::Where::face, "packer-2", 2}};
    block.locked = true;
    block.note = "tight";
    Placement guest = block;
    guest.id = PlacementId{setup.next_id()};
    guest.no = 2;
    guest.seat.host = {Host::Kind::placement, block.id, "front", {}, {}, shop::TableSide::south};
    Placement clamp;
    clamp.id = PlacementId{setup.next_id()};
    clamp.no = 3;
    clamp.component = "clamp";
    clamp.seat.host = {Host::Kind::pieces, {}, "", {PieceId{1}, PieceId{2}}, {face, face}, shop::TableSide::south};
    clamp.seat.turn = {0, 0};
    clamp.seat.turn_15deg = 7;
    clamp.seat.along_tenths = 1234;
    clamp.seat.across_tenths = -56;
    Placement stand = clamp;
    stand.id = PlacementId{setup.next_id()};
    stand.no = 4;
    stand.seat.host = {Host::Kind::floor, {}, "", {}, {}, shop::TableSide::west};
    first.placements = {block, guest, clamp, stand};
    first.order = {{StepId{setup.next_id()}, StepKind::clamp_snug, {clamp.id}, {PieceId{1}}, {SeamId{2}}, "both"},
                   {StepId{setup.next_id()}, StepKind::cool, {}, {}, {}, "to hand-warm"}};
    first.repeat = 3;
    first.as_set_mm = {{block.id, 0.3}};
    first.measured = {{"diagonal", 806.2, "after tacking"}};
    Stage second;
    second.id = StageId{setup.next_id()};
    second.name = "upright";
    second.earlier = {first.id};
    setup.stages.push_back(second);

    setup.table.nominal = base::LengthUnit::inch;
    setup.table.blocked = {{3, 4}};
    setup.table.deviations = {{{5, 6}, 0.01, -0.02}};
    setup.table.joined = {{"grid50", {48, 0}}};
    setup.limits = {2.5, 12};
    setup.process = {"tig", "pen", 12};
    setup.shrink = {0.4, "shop's own figures"};
    setup.stock = {{{"60x40x3", 6000}, {"50x50x3", 7500.5}}, 1.6, 15};
    setup.display = {{base::LengthUnit::inch, 1, 32}, "tabloid", "es"};
    setup.title = {"J-17", "stand \"A\"", "Müller", "K.", "2024-02-29", "B", "left"};
    setup.revisions = {{"A", "2024-01-01", "first"}, {"B", "2024-02-29", "brace moved"}};
    setup.notes = "line one\nline two";
    const auto picture = std::make_shared<const std::string>(std::string("\x89PNG\0\xff picture", 14));
    setup.photos = {{base::sha256(*picture), "as set", picture}};
    setup.accepted = {{"clearance.piece", {"placement 1", "piece 2"}, 2.75, "spatter guard on"}};
    setup.rough = true;
    return setup;
}

}  // namespace setwright::setup
