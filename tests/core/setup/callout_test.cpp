#include <gtest/gtest.h>

#include <random>
#include <set>

#include "core/base/text.h"
#include "core/setup/place.h"
#include "tests/core/setup/parts.h"

namespace setwright::setup {
namespace {

const Stage& stage_of(const Setup& setup) {
    return setup.stages[0];
}

std::string said(const Setup& setup, const std::string& component, const Seat& seat) {
    return callout(setup, stage_of(setup), placement_of(component, seat));
}

base::Result<Seat> read(const Setup& setup, const std::string& component, std::string_view text) {
    return parse_callout(setup, stage_of(setup), *setup.components.at(component), text);
}

Seat seat_read(const Setup& setup, const std::string& component, std::string_view text) {
    const base::Result<Seat> seat = read(setup, component, text);
    EXPECT_TRUE(seat.ok()) << text << ": " << (seat ? "" : seat.error().text.id);
    return seat ? *seat : Seat{};
}

/// The sentence, in English, of the fault in a callout.
std::string sentence(const Setup& setup, const std::string& component, std::string_view text) {
    static const base::TextCatalogue english = base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en");
    const base::Result<Seat> seat = read(setup, component, text);
    return seat ? "read" : english.render(seat.error().text);
}

/// The parts of seat_setup() and a plated, handed stop; a right-hand angle plate as block 3, a part with two faces
/// as 4.
Setup callout_setup() {
    Setup setup = seat_setup();
    shop::Component plated = stop_part();
    plated.id = "plated";
    plated.handed = true;
    for (const char* id : {"50", "100", "100V"}) {
        shop::Plate plate;
        plate.id = id;
        plated.plates.push_back(plate);
    }
    setup.components["plated"] = std::make_shared<const shop::Component>(plated);
    shop::Component cube = angle_plate_part();
    cube.id = "cube";
    cube.grid_faces.push_back(cube.grid_faces[0]);
    cube.grid_faces[1].id = "back";
    setup.components["cube"] = std::make_shared<const shop::Component>(cube);
    Seat seat = seat_at(4, 5, {0, 1});
    seat.hand = shop::Hand::right;
    setup.stages[0].placements.push_back(placement_of("angle", seat, 60, 3));
    seat.hole = {9, 5};
    setup.stages[0].placements.push_back(placement_of("cube", seat, 61, 4));
    return setup;
}

TEST(Callout, ReadsAsTheDesignHasIt) {
    const auto setup = callout_setup();
    Seat seat = seat_at(5, 9);
    seat.setting = 6;
    seat.plate = "100";
    seat.hand = shop::Hand::left;
    seat.packers = {packer_of(Packer::Where::under, 10), packer_of(Packer::Where::under, 5),
                    packer_of(Packer::Where::face, 2)};
    // Row K is the tenth without I.
    EXPECT_EQ(said(setup, "plated", seat), "K6 E 6 · plate 100 · under 10+5 · face 2 · left-hand");
    EXPECT_EQ(seat_read(setup, "plated", "K6 E 6 · plate 100 · under 10+5 · face 2 · left-hand"), seat);
    // As people type it.
    EXPECT_EQ(seat_read(setup, "plated", "  k6 e 6, PLATE 100; face 2, under 5 + 10,left hand "), seat);
}

TEST(Callout, SaysSlopesAndTheSecondHole) {
    const auto setup = callout_setup();
    EXPECT_EQ(said(setup, "slotted", seat_at(9, 6, {8, 5})), "G10 8 over, 5 up 0 · second B2");
    EXPECT_EQ(said(setup, "slotted", seat_at(1, 6, {-8, 5})), "G2 8 left, 5 up 0 · second B10");
    EXPECT_EQ(said(setup, "stop", seat_at(4, 4, {-1, -1})), "E5 SW 0 · second F6");
    EXPECT_EQ(seat_read(setup, "slotted", "G10 8 over, 5 up · second B2"), seat_at(9, 6, {8, 5}));
}

TEST(Callout, DiagonalIsNoCompassWordOnUnequalPitch) {
    auto setup = callout_setup();
    setup.table.pitch_x_mm = 100;
    EXPECT_EQ(said(setup, "slotted", seat_at(5, 5, {1, 1})), "F6 1 over, 1 up 0 · second E5");
    EXPECT_EQ(seat_read(setup, "slotted", "F6 1 over, 1 up"), seat_at(5, 5, {1, 1}));
    EXPECT_FALSE(read(setup, "slotted", "F6 NE").ok());
}

TEST(Callout, PartsOnABlocksFace) {
    const auto setup = callout_setup();
    Seat seat = seat_at(3, 1);
    seat.host.kind = Host::Kind::placement;
    seat.host.placement = PlacementId{60};
    seat.host.face = "A";
    EXPECT_EQ(said(setup, "rest", seat), "3:B4");
    EXPECT_EQ(seat_read(setup, "rest", "3:b4"), seat);
    seat.turn = {0, -1};
    seat.setting = 2;
    EXPECT_EQ(said(setup, "stop", seat), "3:B4 down 2");
    EXPECT_EQ(seat_read(setup, "stop", "3/A:B4 down 2"), seat);
    seat.host.placement = PlacementId{61};
    seat.host.face = "back";
    EXPECT_EQ(said(setup, "stop", seat), "4/back:B4 down 2");
    EXPECT_EQ(seat_read(setup, "stop", "4/back:B4 down 2"), seat);
}

TEST(Callout, ClampsTurnInFifteens) {
    const auto setup = callout_setup();
    Seat seat = seat_at(2, 2, {0, 0});
    seat.turn_15deg = 2;
    seat.setting = -1;
    EXPECT_EQ(said(setup, "clamp", seat), "C3 30° -1");
    EXPECT_EQ(seat_read(setup, "clamp", "C3 30 deg -1"), seat);
    // A quarter turn is one of the grid's directions.
    EXPECT_EQ(seat_read(setup, "clamp", "C3 90°"), seat_at(2, 2, {0, 1}));
    seat.turn_15deg = 6;
    EXPECT_EQ(said(setup, "clamp", seat), "C3 N -1");
}

TEST(Callout, LoosePartsOnPiecesFloorAndTable) {
    auto setup = callout_setup();
    add_pieces(setup, {bar_piece(7, "P4", Vec3(0, 0, 0), Vec3(50, 50, 400)),
                       bar_piece(8, "Rail \"A\", long", Vec3(200, 0, 0), Vec3(250, 50, 400)),
                       bar_piece(9, "leg", Vec3(0, 200, 0), Vec3(50, 250, 400), Pose::turn_z(base::Angle::deg(30))),
                       bar_piece(10, "leg", Vec3(0, 400, 0), Vec3(50, 450, 400))});
    const auto& pieces = setup.weldments[0].model->pieces;
    Seat seat;
    seat.turn = {0, 0};
    seat.host.kind = Host::Kind::piece;
    seat.host.pieces = {pieces[0].id};
    seat.host.piece_faces = {weldment::face_key(pieces[0], 5)};
    seat.along_tenths = 1205;
    seat.across_tenths = 300;
    EXPECT_EQ(said(setup, "magnet", seat), "on \"P4\" top 120.5 along, 30 across");
    EXPECT_EQ(seat_read(setup, "magnet", "on P4 TOP 120.5 along 30 across"), seat);
    seat.turn_15deg = 3;
    EXPECT_EQ(said(setup, "magnet", seat), "on \"P4\" top 120.5 along, 30 across, 45°");

    seat.host.kind = Host::Kind::pieces;
    seat.host.pieces.push_back(pieces[1].id);
    seat.host.piece_faces = {weldment::face_key(pieces[0], 0), weldment::face_key(pieces[1], 1)};
    const std::string two = "on \"P4\" west and \"Rail \"\"A\"\", long\" east 120.5 along, 30 across, 45°";
    EXPECT_EQ(said(setup, "magnet", seat), two);
    EXPECT_EQ(seat_read(setup, "magnet", two), seat);

    // A face that looks nowhere in particular goes by its number, a name that repeats by its piece's.
    seat.host.kind = Host::Kind::piece;
    seat.host.pieces = {pieces[2].id};
    seat.host.piece_faces = {weldment::face_key(pieces[2], 1)};
    EXPECT_EQ(said(setup, "magnet", seat), "on \"leg\" #9 face 2 120.5 along, 30 across, 45°");
    EXPECT_EQ(seat_read(setup, "magnet", "on \"leg\" #9 face 2 120.5 along, 30 across, 45°"), seat);

    Seat floor;
    floor.turn = {0, 0};
    floor.host.kind = Host::Kind::floor;
    floor.along_tenths = 3000;
    floor.across_tenths = -1500;
    EXPECT_EQ(said(setup, "magnet", floor), "floor south 300 along, 150 out");
    EXPECT_EQ(seat_read(setup, "magnet", "floor south 300 along, 150 out"), floor);
    Seat table = floor;
    table.host = {};
    table.across_tenths = 1500;
    EXPECT_EQ(said(setup, "magnet", table), "table 300 along, 150 across");
    EXPECT_EQ(seat_read(setup, "magnet", "table 300 along, 150 across"), table);
}

TEST(Callout, InchPartsSpeakInches) {
    auto setup = callout_setup();
    shop::Component inch = stop_part();
    inch.id = "inch";
    inch.nominal = base::LengthUnit::inch;
    for (const char* id : {"3/4", "1 1/2", "2"}) {
        shop::Plate plate;
        plate.id = id;
        inch.plates.push_back(plate);
    }
    setup.components["inch"] = std::make_shared<const shop::Component>(inch);
    for (const auto& [id, thickness] : {std::pair("shim", 25.4 / 64), std::pair("block", 25.4 * 3 / 8)}) {
        shop::Component packer = packer_part(id, thickness);
        packer.nominal = base::LengthUnit::inch;
        setup.components[id] = std::make_shared<const shop::Component>(packer);
    }
    Seat seat = seat_at(5, 5);
    seat.plate = "1 1/2";
    seat.packers = {{Packer::Where::under, "block", 25.4 * 3 / 8},
                    {Packer::Where::under, "shim", 25.4 / 64},
                    packer_of(Packer::Where::face, 5)};
    // 5 mm is no fraction of an inch to 1/64: it keeps its own unit.
    EXPECT_EQ(said(setup, "inch", seat), "F6 E 0 · plate 1 1/2 · under 3/8+1/64 · face 5 mm");
    EXPECT_EQ(seat_read(setup, "inch", "F6 E 0 · plate 1 1/2 · under 3/8+1/64 · face 5 mm"), seat);
    EXPECT_EQ(seat_read(setup, "inch", "F6 E, plate 1-1/2\", under 3/8\" + 1/64\", face 5mm"), seat);
    EXPECT_EQ(seat_read(setup, "inch", "F6 E, plate 0.75 in").plate, "3/4");
}

TEST(Callout, EachFaultSaysWhatIsAllowed) {
    const auto setup = callout_setup();
    EXPECT_EQ(sentence(setup, "rest", "Z99"), "There is no hole Z99 on this table: rows run A to K, columns 1 to 12.");
    EXPECT_EQ(sentence(setup, "rest", "3:Z99"), "There is no hole Z99 on that face: rows run A to F, columns 1 to 8.");
    EXPECT_EQ(sentence(setup, "rest", "I1"), "There is no hole I1 on this table: rows run A to K, columns 1 to 12.");
    EXPECT_EQ(sentence(setup, "rest", " , "), "The callout is empty; write the hole first, such as K14 E 6.");
    EXPECT_EQ(sentence(setup, "rest", "7:B4"),
              "\"7\" has no face with holes in this stage; these blocks have one: 3, 4.");
    EXPECT_EQ(sentence(setup, "rest", "4:B4"),
              "\"4\" does not say which face of block 4; add a stroke and one of A, back, such as 4/A:B4.");
    EXPECT_EQ(sentence(setup, "plated", "F6 E 2 plate 75 left-hand"),
              "plated takes no plate 75; its plates are 50, 100, 100V.");
    EXPECT_EQ(sentence(setup, "plated", "F6 E 2 left-hand"),
              "plated needs an upright plate; add plate and one of 50, 100, 100V.");
    EXPECT_EQ(sentence(setup, "plated", "F6 E 2 plate 50"), "plated comes in two hands; add left-hand or right-hand.");
    EXPECT_EQ(sentence(setup, "stop", "F6 E 10"), "stop has no mark 10: its marks run from 0 to 9.");
    EXPECT_EQ(sentence(setup, "stop", "F6 E 2.5"), "stop has no mark 2.5: its marks run from 0 to 9.");
    EXPECT_EQ(sentence(setup, "stop", "F6 ENE"),
              "\"ENE\" is no facing of stop here; it can face E, N, W, S, NE, NW, SW, SE.");
    EXPECT_EQ(sentence(setup, "stop", "F6 3"), "Say which way stop faces, after the hole: E, N, W, S, NE, NW, SW, SE.");
    EXPECT_EQ(sentence(setup, "stop", "F6 2 over, 1 up"),
              "stop cannot face 2 over, 1 up on these holes; it can face E, N, W, S, NE, NW, SW, SE.");
    EXPECT_EQ(sentence(setup, "rest", "F6 E"), "rest is the same all round and has no facing; leave it out.");
    EXPECT_EQ(sentence(setup, "rest", "F6 4"), "rest has no marks; leave 4 out.");
    EXPECT_EQ(sentence(setup, "rest", "F6 face 2"), "Packers cannot go at the face of rest; leave \"face\" out.");
    EXPECT_EQ(sentence(setup, "rest", "F6 under 3"), "There is no packer 3; the packers are 0.5, 1, 2, 5, 10, 20.");
    EXPECT_EQ(sentence(setup, "rest", "F6 left-hand"),
              "rest is the same for both hands; leave left-hand or right-hand out.");
    EXPECT_EQ(sentence(setup, "stop", "F6 NE 0 second F7"),
              "The second pin of stop goes in E5, not in F7; write second E5 or leave it out.");
    EXPECT_EQ(
        sentence(setup, "rest", "F6 upwards"),
        "\"upwards\" is not understood; after hole, facing and mark a callout may say plate, under, face, second, "
        "left-hand or right-hand.");
    EXPECT_EQ(sentence(setup, "magnet", "F6"),
              "magnet is not fixed in a hole; write its place such as on \"P4\" top 120 along, 30 across.");
    EXPECT_EQ(sentence(setup, "magnet", "table 12.34 along, 5 across"),
              "\"12.34\" is not a place; write it such as 120.5 along, 30 across (millimetres, to a tenth).");
    EXPECT_EQ(sentence(setup, "magnet", "floor left 3 along, 5 out"),
              "\"left\" is no side of the table; write floor south, east, north or west.");
    EXPECT_EQ(sentence(setup, "rest", "floor south 3 along, 5 out"),
              "rest is fixed in a hole; set it on the table or on a face with holes.");
}

TEST(Callout, EverySentenceOfAFaultExists) {
    const base::TextCatalogue english = base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en");
    const base::Result<std::string> source = base::read_file(SETWRIGHT_SOURCE_DIR "/core/setup/callout.cpp");
    const base::Result<std::string> more = base::read_file(SETWRIGHT_SOURCE_DIR "/core/setup/place.cpp");
    ASSERT_TRUE(source.ok() && more.ok());
    int found = 0;
    for (const std::string& text : {*source, *more}) {
        for (std::size_t at = text.find("\"seat."); at != std::string::npos; at = text.find("\"seat.", at + 1)) {
            const std::string key = text.substr(at + 1, text.find('"', at + 1) - at - 1);
            EXPECT_TRUE(english.has(key)) << key;
            ++found;
        }
    }
    EXPECT_GT(found, 40);
}

/// A valid seat of any of the parts, drawn at random.
Placement random_placement(const Setup& setup, std::mt19937& random) {
    const auto pick = [&](int from, int to) {
        return static_cast<int>(random() % static_cast<unsigned>(to - from + 1)) + from;
    };
    const std::vector<std::string> parts{"stop", "slotted", "plated", "angle", "rest", "clamp", "magnet"};
    for (;;) {
        const std::string id = parts[static_cast<std::size_t>(pick(0, static_cast<int>(parts.size()) - 1))];
        const shop::Component& c = *setup.components.at(id);
        Seat seat;
        if (id == "magnet") {
            seat.turn = {0, 0};
            seat.turn_15deg = pick(0, 23);
            seat.along_tenths = pick(-2000, 5000);
            seat.across_tenths = pick(-2000, 5000);
            const auto& pieces = setup.weldments[0].model->pieces;
            const auto choose = [&] {
                const auto& piece = pieces[static_cast<std::size_t>(pick(0, static_cast<int>(pieces.size()) - 1))];
                seat.host.pieces.push_back(piece.id);
                seat.host.piece_faces.push_back(weldment::face_key(piece, pick(0, 5)));
            };
            switch (pick(0, 3)) {
                case 0:
                    seat.host.kind = Host::Kind::pieces;
                    choose();
                    choose();
                    break;
                case 1:
                    seat.host.kind = Host::Kind::piece;
                    choose();
                    break;
                case 2:
                    seat.host.kind = Host::Kind::floor;
                    seat.host.side = static_cast<shop::TableSide>(pick(0, 3));
                    break;
                default:
                    break;
            }
        } else {
            if (pick(0, 2) == 0) {
                seat.host.kind = Host::Kind::placement;
                seat.host.placement = PlacementId{static_cast<std::uint32_t>(pick(60, 61))};
                seat.host.face = seat.host.placement.value == 61 && pick(0, 1) == 1 ? "back" : "A";
            }
            seat.hole = {pick(0, 11), pick(0, 9)};
            const auto allowed = turns(c, *host_grid(setup, stage_of(setup), seat.host));
            seat.turn = allowed[static_cast<std::size_t>(pick(0, static_cast<int>(allowed.size()) - 1))];
            if (c.mount.turns_freely && pick(0, 1) == 1) {
                seat.turn_15deg = pick(0, 23);
                if (seat.turn_15deg % 6 != 0)
                    seat.turn = {0, 0};
                else
                    seat.turn_15deg = 0;
            }
        }
        if (c.handed) seat.hand = pick(0, 1) == 0 ? shop::Hand::left : shop::Hand::right;
        if (!c.plates.empty()) seat.plate = c.plates[static_cast<std::size_t>(pick(0, 2))].id;
        if (c.setting) seat.setting = pick(c.setting->first, c.setting->last);
        for (const Packer::Where where : {Packer::Where::under, Packer::Where::face}) {
            if (where == Packer::Where::under ? !c.packers_under : !c.packers_at_face) continue;
            std::vector<double> stack;
            constexpr std::array sizes{0.5, 1.0, 2.0, 5.0, 10.0, 20.0};
            for (int i = pick(0, 3); i > 0; --i) stack.push_back(sizes[static_cast<std::size_t>(pick(0, 5))]);
            std::sort(stack.rbegin(), stack.rend());
            for (const double t : stack) seat.packers.push_back(packer_of(where, t));
        }
        const Placement placement = placement_of(id, seat, 90, 9);
        if (pose(setup, stage_of(setup), placement)) return placement;
    }
}

TEST(Callout, WhatIsSaidIsReadBackExactly) {
    auto setup = callout_setup();
    add_pieces(setup, {bar_piece(7, "P4", Vec3(0, 0, 0), Vec3(50, 50, 400)),
                       bar_piece(8, "Rail \"A\", long", Vec3(200, 0, 0), Vec3(250, 50, 400)),
                       bar_piece(9, "leg", Vec3(0, 200, 0), Vec3(50, 250, 400), Pose::turn_z(base::Angle::deg(30))),
                       bar_piece(10, "leg", Vec3(0, 400, 0), Vec3(50, 450, 400))});
    std::mt19937 random(20240607);
    std::set<std::string> different;
    for (int i = 0; i < 5000; ++i) {
        const Placement placement = random_placement(setup, random);
        const std::string text = callout(setup, stage_of(setup), placement);
        const base::Result<Seat> back = read(setup, placement.component, text);
        ASSERT_TRUE(back.ok()) << placement.component << ": " << text << ": " << back.error().text.id;
        ASSERT_EQ(*back, placement.seat) << text;
        different.insert(text);
    }
    EXPECT_GT(different.size(), 4000u);
}

TEST(Callout, RubbishIsRefusedQuietly) {
    const auto setup = callout_setup();
    std::mt19937 random(7);
    const std::vector<std::string> scraps{"K",      "14",    "E",    "NE",    "\"",
                                          "·",      ",",     "+",    "-",     "plate",
                                          "under",  "face",  "3:",   "/",     "on",
                                          "and",    "#",     "°",    "left",  "hand",
                                          "over",   "up",    "8",    "1e999", "99999999999999",
                                          "top",    "along", "\xff", "floor", "south",
                                          "second", ""};
    int read_well = 0;
    for (int i = 0; i < 20000; ++i) {
        std::string text;
        for (int n = static_cast<int>(random() % 8); n >= 0; --n)
            text += scraps[random() % scraps.size()] + (random() % 3 == 0 ? "" : " ");
        for (const char* component : {"plated", "clamp", "magnet"}) {
            const base::Result<Seat> seat = read(setup, component, text);
            if (seat)
                ++read_well;
            else
                EXPECT_FALSE(seat.error().text.empty());
        }
    }
    EXPECT_LT(read_well, 1000);
}

}  // namespace
}  // namespace setwright::setup
