#include "core/setup/neighbour.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <set>

#include "core/base/limits.h"
#include "core/setup/seating.h"
#include "tests/core/setup/parts.h"

namespace setwright::setup {
namespace {

namespace limits = base::limits;
using Job = Setup;

constexpr PlacementId nobody;
constexpr PlacementId plate_id{60};

shop::Component plated_part() {
    shop::Component c = stop_part();
    c.id = "plated";
    for (const char* id : {"50", "100", "150"}) {
        shop::Plate plate;
        plate.id = id;
        c.plates.push_back(plate);
    }
    return c;
}

bool stands(const Job& setup, const shop::Component& component, const Seat& seat, PlacementId self = nobody) {
    Job with = setup;
    with.components[component.id] = std::make_shared<const shop::Component>(component);
    Placement placement = placement_of(component.id, seat, 99);
    if (self.valid()) placement.id = self;
    return check_seat(with, with.stages[0], placement).ok();
}

/// Angle plate in hole (4, 5) facing N, its face looks N.
Job with_angle_plate(shop::Hand hand) {
    Job setup = seat_setup();
    Seat seat = seat_at(4, 5, {0, 1});
    seat.hand = hand;
    setup.stages[0].placements.push_back(placement_of("angle", seat, plate_id.value, 3));
    return setup;
}

Host angle_face() {
    Host host;
    host.kind = Host::Kind::placement;
    host.placement = plate_id;
    host.face = "A";
    return host;
}

/// A bar along M's y, laid 60 over the table.
Job with_bar() {
    Job setup = seat_setup();
    add_pieces(setup, {bar_piece(7, "P4", Vec3(-25, -25, 0), Vec3(25, 25, 400),
                                 Pose::move(100, 0, 0) * Pose::turn_x(base::Angle::deg(-90)))});
    setup.stages[0].lay.X_TM = Pose::move(10, 20, 85);
    return setup;
}

Host bar_top(const Job& setup) {
    const weldment::Piece& bar = setup.weldments[0].model->pieces[0];
    Host host;
    host.kind = Host::Kind::piece;
    host.pieces = {bar.id};
    host.piece_faces = {weldment::face_key(bar, 2)};
    return host;
}

Host floor_host() {
    Host host;
    host.kind = Host::Kind::floor;
    host.side = shop::TableSide::east;
    return host;
}

Vec3 stands_at(const Job& setup, const shop::Component& component, const Seat& seat) {
    const base::Result<Seated> here = seated(setup, setup.stages[0], component, seat, nobody);
    EXPECT_TRUE(here.ok()) << (here ? "" : here.error().text.id);
    return here ? here->X_TC.position() : Vec3::Zero();
}

TEST(Neighbour, ABlockComesOffTheShelfFacingEastInTheNearestHole) {
    const Job setup = seat_setup();
    const auto seat = first_seat(setup, setup.stages[0], plated_part(), {}, Vec3(252, 261, 400));
    ASSERT_TRUE(seat);
    Seat expected = seat_at(5, 5);
    expected.plate = "50";
    EXPECT_EQ(*seat, expected);
    // By the west edge its second pin would miss the table: one hole further in, still facing east.
    EXPECT_EQ(first_seat(setup, setup.stages[0], stop_part(), {}, Vec3(0, 100, 0))->hole, (shop::Hole{1, 2}));
    EXPECT_EQ(first_seat(setup, setup.stages[0], rest_part(), {}, Vec3(9000, -9000, 0))->hole, (shop::Hole{11, 0}));
    EXPECT_EQ(first_seat(setup, setup.stages[0], angle_plate_part(), {}, Vec3(250, 250, 0))->hand, shop::Hand::right);
}

TEST(Neighbour, TheFirstSettingIsTheOneNearestToNought) {
    const Job setup = seat_setup();
    EXPECT_EQ(first_seat(setup, setup.stages[0], clamp_part(), {}, Vec3(250, 250, 0))->setting, 0);
    shop::Component high = stop_part();
    high.setting = shop::Setting{Vec3::UnitX(), 5, 3, 9};
    EXPECT_EQ(first_seat(setup, setup.stages[0], high, {}, Vec3(250, 250, 0))->setting, 3);
    high.setting = shop::Setting{Vec3::UnitX(), 5, -9, -2};
    EXPECT_EQ(first_seat(setup, setup.stages[0], high, {}, Vec3(250, 250, 0))->setting, -2);
}

TEST(Neighbour, WhereEastIsNotAllowedTheNearestTurnIsTaken) {
    Job setup = seat_setup();
    setup.table.pitch_x_mm = 100;
    // On 100 × 50 the slot of 45 to 75 allows N and S only.
    EXPECT_EQ(first_seat(setup, setup.stages[0], stop_part(), {}, Vec3(300, 150, 0))->turn, (std::array{0, 1}));
    // A table of one column: east is allowed by the pitch but finds no second hole.
    setup = seat_setup();
    setup.table.cols = 1;
    EXPECT_EQ(first_seat(setup, setup.stages[0], stop_part(), {}, Vec3(0, 150, 0))->turn, (std::array{0, 1}));
}

TEST(Neighbour, BlockedHolesAreNotOfferedAndUsedOnesAre) {
    Job setup = seat_setup();
    setup.table.blocked = {{5, 5}};
    EXPECT_EQ(first_seat(setup, setup.stages[0], rest_part(), {}, Vec3(252, 261, 0))->hole, (shop::Hole{5, 6}));
    setup.stages[0].placements.push_back(placement_of("rest", seat_at(8, 8), 50));
    EXPECT_EQ(first_seat(setup, setup.stages[0], rest_part(), {}, Vec3(400, 400, 0))->hole, (shop::Hole{8, 8}));
}

TEST(Neighbour, NoSeatWhereTheComponentCannotStand) {
    const Job setup = with_bar();
    EXPECT_FALSE(first_seat(setup, setup.stages[0], stop_part(), bar_top(setup), Vec3(100, 100, 100)));
    EXPECT_FALSE(first_seat(setup, setup.stages[0], stop_part(), floor_host(), Vec3(100, 100, 100)));
    const Job plate = with_angle_plate(shop::Hand::right);
    EXPECT_FALSE(first_seat(plate, plate.stages[0], magnet_part(), angle_face(), Vec3(200, 270, 80)));
    shop::Component thick = rest_part();
    thick.mount.hole_mm = 28;
    EXPECT_FALSE(first_seat(setup, setup.stages[0], thick, {}, Vec3(100, 100, 0)));
}

TEST(Neighbour, LoosePartsComeToTheTenthUnderThePointer) {
    const Job setup = with_bar();
    for (const Host& host : {Host{}, bar_top(setup), floor_host()}) {
        const Vec3 pointer(122.34, 70.06, 110);
        const auto seat = first_seat(setup, setup.stages[0], magnet_part(), host, pointer);
        ASSERT_TRUE(seat);
        const Vec3 off = stands_at(setup, magnet_part(), *seat) - pointer;
        const base::Result<HostGrid> grid = host_grid(setup, setup.stages[0], host);
        EXPECT_LE(grid->X_TH.inverse().turn(off).head<2>().cwiseAbs().maxCoeff(), 0.05 + 1e-9);
    }
}

TEST(Neighbour, OnAnAnglePlateTheFirstSeatIsTheHoleUnderThePointer) {
    for (const shop::Hand hand : {shop::Hand::right, shop::Hand::left}) {
        const Job setup = with_angle_plate(hand);
        const HostGrid grid = *host_grid(setup, setup.stages[0], angle_face());
        for (const shop::Hole hole : {shop::Hole{3, 2}, shop::Hole{7, 0}}) {
            const Vec3 at = grid.X_TH * Vec3(hole.col * 25 + 4, hole.row * 25 - 4, 0);
            EXPECT_EQ(first_seat(setup, setup.stages[0], rest_part(), angle_face(), at)->hole, hole);
        }
    }
}

TEST(Neighbour, ArrowsGoByHolesOfTheHostAlsoOnALeftHandFace) {
    const Job setup = with_angle_plate(shop::Hand::left);
    Seat seat = seat_at(3, 2);
    seat.host = angle_face();
    const auto right = next_hole(setup, setup.stages[0], rest_part(), seat, nobody, 1, 0);
    ASSERT_TRUE(right);
    // Seen from the north, right is west.
    EXPECT_LT((stands_at(setup, rest_part(), *right) - stands_at(setup, rest_part(), seat) + Vec3(25, 0, 0)).norm(),
              1e-9);
    const auto up = next_hole(setup, setup.stages[0], rest_part(), seat, nobody, 0, 1);
    EXPECT_LT((stands_at(setup, rest_part(), *up) - stands_at(setup, rest_part(), seat) - Vec3(0, 0, 25)).norm(), 1e-9);
    seat.hole = {7, 5};
    EXPECT_FALSE(next_hole(setup, setup.stages[0], rest_part(), seat, nobody, 1, 0));
    EXPECT_FALSE(next_hole(setup, setup.stages[0], rest_part(), seat, nobody, 0, 1));
}

TEST(Neighbour, BlockedHolesAreSteppedOverAndTheEdgeEndsIt) {
    Job setup = seat_setup();
    setup.table.blocked = {{6, 5}, {7, 5}};
    const auto step = [&](const shop::Component& c, int col, int columns, int rows) -> std::optional<shop::Hole> {
        const auto seat = next_hole(setup, setup.stages[0], c, seat_at(col, 5), nobody, columns, rows);
        return seat ? std::optional(seat->hole) : std::nullopt;
    };
    EXPECT_EQ(step(rest_part(), 5, 1, 0), (shop::Hole{8, 5}));
    EXPECT_EQ(step(rest_part(), 8, -1, 0), (shop::Hole{5, 5}));
    // The stop's second pin, one hole behind, must not be in a blocked one either.
    EXPECT_EQ(step(stop_part(), 5, 1, 0), (shop::Hole{9, 5}));
    EXPECT_EQ(step(rest_part(), 5, 3, 1), (shop::Hole{8, 6}));
    EXPECT_EQ(step(rest_part(), 11, 1, 0), std::nullopt);
    EXPECT_EQ(step(rest_part(), 0, -1, 0), std::nullopt);
    EXPECT_EQ(step(stop_part(), 1, -1, 0), std::nullopt) << "its second pin would be off the table";
    EXPECT_EQ(step(rest_part(), 5, 0, 5), std::nullopt);
    EXPECT_EQ(step(rest_part(), 5, std::numeric_limits<int>::max(), 0), std::nullopt);
    EXPECT_EQ(step(rest_part(), 5, 0, 0), std::nullopt);
}

TEST(Neighbour, LoosePartsGoByCentimetres) {
    const Job setup = with_bar();
    for (const Host& host : {Host{}, bar_top(setup), floor_host()}) {
        const Seat seat = *first_seat(setup, setup.stages[0], magnet_part(), host, Vec3(120, 70, 110));
        const auto on = next_hole(setup, setup.stages[0], magnet_part(), seat, nobody, 1, -2);
        ASSERT_TRUE(on);
        EXPECT_EQ(on->along_tenths - seat.along_tenths, 100);
        EXPECT_EQ(on->across_tenths - seat.across_tenths, -200);
        EXPECT_FALSE(next_hole(setup, setup.stages[0], magnet_part(), seat, nobody, std::numeric_limits<int>::max(),
                               std::numeric_limits<int>::min()));
    }
}

TEST(Neighbour, TurningVisitsEveryTurnOnceInOrder) {
    const Job setup = seat_setup();
    const HostGrid grid = *host_grid(setup, setup.stages[0], {});
    // Wide enough around (12, 12) for the long slot to find its second hole in every turn.
    Job wide = setup;
    wide.table.cols = wide.table.rows = 24;
    for (const shop::Component& c : {stop_part(), slotted_part()}) {
        std::set<std::array<int, 2>> left;
        for (const auto& turn : turns(c, grid)) left.insert(turn);
        const std::size_t count = left.size();
        Seat seat = seat_at(12, 12);
        double turned_deg = 0;
        for (std::size_t i = 0; i < count; ++i) {
            const auto next = next_turn(wide, wide.stages[0], c, seat, nobody, 1);
            ASSERT_TRUE(next);
            EXPECT_EQ(left.erase(next->turn), 1u) << next->turn[0] << ":" << next->turn[1];
            const double by = std::atan2(seat.turn[0] * next->turn[1] - seat.turn[1] * next->turn[0],
                                         seat.turn[0] * next->turn[0] + seat.turn[1] * next->turn[1]);
            EXPECT_GT(by, 0) << "counter-clockwise";
            turned_deg += by * 180 / std::numbers::pi;
            seat = *next;
        }
        EXPECT_TRUE(left.empty());
        EXPECT_EQ(seat, seat_at(12, 12));
        EXPECT_NEAR(turned_deg, 360, 1e-6) << "once round";
    }
}

TEST(Neighbour, AFreelyTurningClampGoesInFifteenDegreesAndWritesQuartersAsFacings) {
    const Job setup = seat_setup();
    Seat seat = seat_at(5, 5);
    for (int step = 1; step <= 24; ++step) {
        seat = *next_turn(setup, setup.stages[0], clamp_part(), seat, nobody, 1);
        if (step % 6 == 0)
            EXPECT_EQ(seat.turn_15deg, 0);
        else
            EXPECT_EQ(seat.turn_15deg, step);
    }
    EXPECT_EQ(seat, seat_at(5, 5));
    EXPECT_EQ(next_turn(setup, setup.stages[0], clamp_part(), seat, nobody, -2)->turn_15deg, 22);
    EXPECT_EQ(next_turn(setup, setup.stages[0], clamp_part(), seat, nobody, 6)->turn, (std::array{0, 1}));
}

TEST(Neighbour, LoosePartsTurnOnEveryHost) {
    const Job setup = with_bar();
    for (const Host& host : {Host{}, bar_top(setup), floor_host()}) {
        const Seat start = *first_seat(setup, setup.stages[0], magnet_part(), host, Vec3(120, 70, 110));
        Seat seat = start;
        for (int step = 0; step < 24; ++step) {
            EXPECT_EQ(seat.turn_15deg, step);
            seat = *next_turn(setup, setup.stages[0], magnet_part(), seat, nobody, 1);
        }
        EXPECT_EQ(seat, start);
    }
}

TEST(Neighbour, TurnsThatFindNoSecondHoleArePassedOver) {
    const Job setup = seat_setup();
    // In the corner A1 the second pin, behind, must lie east, north or north-east: the block faces W, SW or S.
    const auto turn = [&](std::array<int, 2> from, int by) {
        return next_turn(setup, setup.stages[0], stop_part(), seat_at(0, 0, from), nobody, by)->turn;
    };
    EXPECT_EQ(turn({-1, 0}, 1), (std::array{-1, -1}));
    EXPECT_EQ(turn({-1, -1}, 1), (std::array{0, -1}));
    EXPECT_EQ(turn({0, -1}, 1), (std::array{-1, 0}));
    EXPECT_EQ(turn({-1, 0}, -1), (std::array{0, -1}));
}

TEST(Neighbour, ARoundPartHasNoOtherTurn) {
    const Job setup = seat_setup();
    EXPECT_FALSE(next_turn(setup, setup.stages[0], rest_part(), seat_at(5, 5), nobody, 1));
}

TEST(Neighbour, OnlyHandedPartsHaveAnotherHand) {
    const Job setup = seat_setup();
    Seat seat = seat_at(5, 5);
    EXPECT_FALSE(other_hand(setup, setup.stages[0], stop_part(), seat, nobody));
    seat.hand = shop::Hand::right;
    const auto left = other_hand(setup, setup.stages[0], angle_plate_part(), seat, nobody);
    ASSERT_TRUE(left);
    EXPECT_EQ(left->hand, shop::Hand::left);
    EXPECT_EQ(other_hand(setup, setup.stages[0], angle_plate_part(), *left, nobody), seat);
}

TEST(Neighbour, MarksAndPlatesEndAtTheirLast) {
    const Job setup = seat_setup();
    Seat seat = seat_at(5, 5);
    seat.setting = 8;
    EXPECT_EQ(next_setting(setup, setup.stages[0], stop_part(), seat, nobody, 1)->setting, 9);
    EXPECT_FALSE(next_setting(setup, setup.stages[0], stop_part(), seat, nobody, 2));
    EXPECT_FALSE(next_setting(setup, setup.stages[0], stop_part(), seat, nobody, -9));
    EXPECT_FALSE(next_setting(setup, setup.stages[0], rest_part(), seat_at(5, 5), nobody, 1));
    seat.plate = "100";
    EXPECT_EQ(next_plate(setup, setup.stages[0], plated_part(), seat, nobody, 1)->plate, "150");
    EXPECT_EQ(next_plate(setup, setup.stages[0], plated_part(), seat, nobody, -1)->plate, "50");
    EXPECT_FALSE(next_plate(setup, setup.stages[0], plated_part(), seat, nobody, 2));
    EXPECT_FALSE(next_plate(setup, setup.stages[0], stop_part(), seat_at(5, 5), nobody, 1));
}

TEST(Neighbour, PackersClimbThroughEveryHeightTheShelfCanMakeUpTo25) {
    const Job setup = seat_setup();
    for (const auto where : {Packer::Where::under, Packer::Where::face}) {
        const auto stacks = packer_stacks(setup, stop_part());
        ASSERT_GT(stacks.size(), 20u);
        Seat seat = seat_at(5, 5);
        // The other stack stays as it is.
        const auto other = where == Packer::Where::under ? Packer::Where::face : Packer::Where::under;
        seat.packers = {packer_of(other, 2)};
        for (std::size_t i = 1; i < stacks.size(); ++i) {
            const auto up = next_packers(setup, setup.stages[0], stop_part(), seat, nobody, where, 1);
            ASSERT_TRUE(up);
            EXPECT_EQ(stack_mm(*up, where), stacks[i].sum_mm);
            EXPECT_EQ(stack_mm(*up, other), 2);
            EXPECT_EQ(stack_mm(*next_packers(setup, setup.stages[0], stop_part(), *up, nobody, where, -1), where),
                      stacks[i - 1].sum_mm);
            seat = *up;
        }
        EXPECT_EQ(stack_mm(seat, where), limits::packer_stack_mm);
        EXPECT_FALSE(next_packers(setup, setup.stages[0], stop_part(), seat, nobody, where, 1));
    }
    EXPECT_FALSE(next_packers(setup, setup.stages[0], stop_part(), seat_at(5, 5), nobody, Packer::Where::under, -1));
    EXPECT_FALSE(next_packers(setup, setup.stages[0], rest_part(), seat_at(5, 5), nobody, Packer::Where::face, 1));
}

TEST(Neighbour, APackerStackThatTheShelfCannotMakeLiesBetweenTwoThatItCan) {
    const Job setup = seat_setup();
    Seat seat = seat_at(5, 5);
    // 13.5 = 10 + 2 + 1 + 0.5 takes four packers: the neighbours are 13 and 15.
    seat.packers = {{Packer::Where::under, "cut", 13.7}};
    const auto up = next_packers(setup, setup.stages[0], stop_part(), seat, nobody, Packer::Where::under, 1);
    const auto down = next_packers(setup, setup.stages[0], stop_part(), seat, nobody, Packer::Where::under, -1);
    EXPECT_GT(stack_mm(*up, Packer::Where::under), 13.7);
    EXPECT_LT(stack_mm(*down, Packer::Where::under), 13.7);
    EXPECT_EQ(stack_mm(*next_packers(setup, setup.stages[0], stop_part(), *down, nobody, Packer::Where::under, 1),
                       Packer::Where::under),
              stack_mm(*up, Packer::Where::under));
}

/// A walk by random keys over several hosts: whatever it gives is a seat, and the key back gives the seat before.
TEST(Neighbour, WhateverAKeyGivesIsASeatAndTheKeyBackUndoesIt) {
    struct Walk {
        Job setup;
        shop::Component component;
        Seat start;
    };
    Job blocked = seat_setup();
    blocked.table.blocked = {{3, 3}, {4, 3}, {8, 7}, {2, 6}};
    Seat on_face = seat_at(3, 2);
    on_face.host = angle_face();
    Seat handed = seat_at(5, 5);
    handed.hand = shop::Hand::right;
    Seat plated = seat_at(5, 5);
    plated.plate = "50";
    const Job bar = with_bar();
    Seat loose;
    loose.host = bar_top(bar);
    loose.turn = {0, 0};
    Seat stand = loose;
    stand.host = floor_host();
    const std::vector<Walk> walks{{blocked, slotted_part(), seat_at(5, 5)},
                                  {blocked, clamp_part(), seat_at(5, 5)},
                                  {blocked, angle_plate_part(), handed},
                                  {blocked, plated_part(), plated},
                                  {with_angle_plate(shop::Hand::right), rest_part(), on_face},
                                  {with_angle_plate(shop::Hand::left), clamp_part(), on_face},
                                  {bar, magnet_part(), loose},
                                  {bar, magnet_part(), stand}};
    std::mt19937 random(20240607);
    const auto pick = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(random); };
    for (const Walk& walk : walks) {
        const auto press = [&](const Seat& seat, int key, int by) -> std::optional<Seat> {
            const Stage& stage = walk.setup.stages[0];
            const shop::Component& c = walk.component;
            switch (key) {
                case 0:
                    return next_hole(walk.setup, stage, c, seat, nobody, by, 0);
                case 1:
                    return next_hole(walk.setup, stage, c, seat, nobody, 0, by);
                case 2:
                    return next_turn(walk.setup, stage, c, seat, nobody, by);
                case 3:
                    return other_hand(walk.setup, stage, c, seat, nobody);
                case 4:
                    return next_setting(walk.setup, stage, c, seat, nobody, by);
                case 5:
                    return next_plate(walk.setup, stage, c, seat, nobody, by);
                case 6:
                    return next_packers(walk.setup, stage, c, seat, nobody, Packer::Where::under, by);
                default:
                    return next_packers(walk.setup, stage, c, seat, nobody, Packer::Where::face, by);
            }
        };
        Seat seat = walk.start;
        int pressed = 0;
        for (int i = 0; i < 400; ++i) {
            const int key = pick(0, 7), by = pick(0, 1) == 1 ? 1 : -1;
            const auto next = press(seat, key, by);
            if (!next) continue;
            ++pressed;
            EXPECT_NE(*next, seat);
            EXPECT_TRUE(stands(walk.setup, walk.component, *next));
            EXPECT_EQ(press(*next, key, -by), seat) << walk.component.id << " key " << key << " by " << by;
            seat = *next;
        }
        EXPECT_GT(pressed, 50) << walk.component.id;
    }
}

TEST(Neighbour, NothingIsSetOnItself) {
    const Job setup = with_angle_plate(shop::Hand::right);
    Seat seat = seat_at(3, 2);
    seat.host = angle_face();
    EXPECT_FALSE(next_hole(setup, setup.stages[0], rest_part(), seat, plate_id, 1, 0));
}

TEST(Neighbour, TheFaceOfAnAnglePlateIsFoundUnderThePointAndNotBeside) {
    for (const shop::Hand hand : {shop::Hand::right, shop::Hand::left}) {
        Job setup = with_angle_plate(hand);
        // Its face is the plane y = 270; x runs over the body: right-hand T x = 200 - (-100 … 150).
        const double far = hand == shop::Hand::right ? 50 : 350, near = hand == shop::Hand::right ? 300 : 100;
        const auto found = [&](const Vec3& point, const Vec3& normal) {
            return face_under(setup, setup.stages[0], plate_id, point, normal);
        };
        const double low = std::min(far, near), high = std::max(far, near);
        for (const double x : {low + 1, 200.0, high - 1})
            for (const double z : {1.0, 80.0, 199.0})
                EXPECT_EQ(found(Vec3(x, 270, z), Vec3::UnitY()), angle_face()) << x << " " << z;
        EXPECT_FALSE(found(Vec3(low - 1, 270, 80), Vec3::UnitY()));
        EXPECT_FALSE(found(Vec3(high + 1, 270, 80), Vec3::UnitY()));
        EXPECT_FALSE(found(Vec3(200, 270, 201), Vec3::UnitY()));
        EXPECT_FALSE(found(Vec3(200, 250, 80), -Vec3::UnitY())) << "its back";
        EXPECT_FALSE(found(Vec3(200, 260, 200), Vec3::UnitZ())) << "its top";
        EXPECT_FALSE(found(Vec3(200, 271, 80), Vec3::UnitY())) << "in front of it";
        EXPECT_FALSE(face_under(setup, setup.stages[0], PlacementId{99}, Vec3(200, 270, 80), Vec3::UnitY()));
        // A point read from a picture is not quite on the face.
        EXPECT_EQ(found(Vec3(200, 270.01, 80), Vec3(0.001, 1, 0)), angle_face());
    }
}

TEST(Neighbour, AFaceTurnedAgainstTheGridIsFoundToo) {
    Job setup = seat_setup();
    shop::Component turned = angle_plate_part();
    turned.mount.second.reset();
    turned.mount.turns_freely = true;
    setup.components["angle"] = std::make_shared<const shop::Component>(turned);
    Seat seat = seat_at(4, 5, {0, 0});
    seat.turn_15deg = 3;
    seat.hand = shop::Hand::left;
    setup.stages[0].placements.push_back(placement_of("angle", seat, plate_id.value));
    const HostGrid grid = *host_grid(setup, setup.stages[0], angle_face());
    const Vec3 out = grid.X_TH.rotation().col(2);
    EXPECT_EQ(face_under(setup, setup.stages[0], plate_id, grid.X_TH * Vec3(50, 50, 0), out), angle_face());
    EXPECT_FALSE(face_under(setup, setup.stages[0], plate_id, grid.X_TH * Vec3(500, 50, 0), out));
    const auto rest = first_seat(setup, setup.stages[0], rest_part(), angle_face(), grid.X_TH * Vec3(51, 26, 0));
    ASSERT_TRUE(rest);
    EXPECT_EQ(rest->hole, (shop::Hole{2, 1}));
}

}  // namespace
}  // namespace setwright::setup
