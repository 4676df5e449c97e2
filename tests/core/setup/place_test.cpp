#include "core/setup/place.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <numeric>

#include "core/base/limits.h"
#include "tests/core/setup/parts.h"

namespace setwright::setup {
namespace {

constexpr double exact = 1e-9;

Posed posed_of(const Setup& setup, const Placement& placement) {
    base::Result<Posed> posed = pose(setup, setup.stages[0], placement);
    EXPECT_TRUE(posed.ok()) << (posed ? "" : posed.error().text.id);
    return posed ? *posed : Posed{};
}

std::string fault(const Setup& setup, const Placement& placement) {
    const base::Result<void> seat = check_seat(setup, setup.stages[0], placement);
    return seat ? "" : seat.error().text.id;
}

void expect_near(const Vec3& a, const Vec3& b) {
    EXPECT_LT((a - b).norm(), exact) << a.transpose() << " | " << b.transpose();
}

TEST(Place, FaceOnTheTableIsHolePlusReachPlusMarks) {
    const auto setup = seat_setup();
    Seat seat = seat_at(5, 3);
    seat.setting = 6;
    const Posed posed = posed_of(setup, placement_of("stop", seat));
    // Hole F.. (5, 3) at (250, 150); face 25 in front, mark 6 = 30 further: x = 305. Hand computed.
    expect_near(posed.faces.at(0).point_T, Vec3(305, 150, 0));
    expect_near(posed.faces.at(0).normal_T, Vec3::UnitX());
    EXPECT_EQ(posed.second_hole, (shop::Hole{4, 3}));
    EXPECT_EQ(posed.height_mm, 100);
}

TEST(Place, QuarterTurnsAreExact) {
    const auto setup = seat_setup();
    const Posed north = posed_of(setup, placement_of("stop", seat_at(5, 3, {0, 1})));
    EXPECT_EQ(north.faces.at(0).normal_T, Vec3::UnitY());
    EXPECT_EQ(north.faces.at(0).point_T, Vec3(250, 175, 0));
    EXPECT_EQ(north.second_hole, (shop::Hole{5, 2}));
    const Posed west = posed_of(setup, placement_of("stop", seat_at(5, 3, {-1, 0})));
    EXPECT_EQ(west.faces.at(0).point_T, Vec3(225, 150, 0));
}

TEST(Place, DiagonalOnEqualPitchIsFortyFiveDegrees) {
    const auto setup = seat_setup();
    const Posed posed = posed_of(setup, placement_of("stop", seat_at(5, 3, {1, 1})));
    // Second pin one diagonal behind, 50·√2 = 70.711, within the slot of 45 to 75.
    expect_near(posed.faces.at(0).normal_T, Vec3(1, 1, 0) / std::numbers::sqrt2);
    expect_near(posed.faces.at(0).point_T, Vec3(250 + 25 / std::numbers::sqrt2, 150 + 25 / std::numbers::sqrt2, 0));
    EXPECT_EQ(posed.second_hole, (shop::Hole{4, 2}));
}

TEST(Place, DiagonalOnUnequalPitchFollowsTheHoles) {
    auto setup = seat_setup();
    setup.table.pitch_x_mm = 100;
    const Posed posed = posed_of(setup, placement_of("slotted", seat_at(5, 3, {1, 1})));
    // Direction (100, 50): atan(1/2) = 26.565°, not 45°.
    const double angle = std::atan2(posed.faces.at(0).normal_T.y(), posed.faces.at(0).normal_T.x());
    EXPECT_NEAR(angle * 180 / std::numbers::pi, 26.56505117707799, exact);
    EXPECT_EQ(posed.second_hole, (shop::Hole{4, 2}));
}

TEST(Place, SlopeEightToFiveIs32Degrees) {
    const auto setup = seat_setup();
    const Posed posed = posed_of(setup, placement_of("slotted", seat_at(9, 6, {8, 5})));
    // atan2(5·50, 8·50) = 32.005383°; the second pin is √(8² + 5²)·50 = 471.70 behind.
    const double angle = std::atan2(posed.faces.at(0).normal_T.y(), posed.faces.at(0).normal_T.x());
    EXPECT_NEAR(angle * 180 / std::numbers::pi, 32.005383208083494, exact);
    EXPECT_EQ(posed.second_hole, (shop::Hole{1, 1}));
}

TEST(Place, PackersRaiseThePartAndMoveTheFace) {
    const auto setup = seat_setup();
    Seat seat = seat_at(5, 3, {0, 1});
    seat.packers = {packer_of(Packer::Where::under, 10), packer_of(Packer::Where::under, 5),
                    packer_of(Packer::Where::face, 2)};
    const Posed posed = posed_of(setup, placement_of("stop", seat));
    expect_near(posed.faces.at(0).point_T, Vec3(250, 150 + 25 + 2, 15));
    EXPECT_EQ(posed.height_mm, 115);
    // Body of the stop, the packer at the face, two under it.
    ASSERT_EQ(posed.fixed.size(), 4u);
    EXPECT_EQ(posed.fixed[1].min, Vec3(25, -20, 5));
    EXPECT_EQ(posed.fixed[1].max, Vec3(27, 20, 95));
    EXPECT_EQ(posed.fixed[2].from.z(), -10);
    EXPECT_EQ(posed.fixed[3].from.z(), -15);
    // A washer of three hole diameters would be 48: the footprint is 40 wide.
    EXPECT_EQ(posed.fixed[3].diameter_mm, 40);
}

TEST(Place, MeasuredDeviationShiftsTheDatumHole) {
    auto setup = seat_setup();
    setup.table.deviations.push_back({{5, 3}, 0.2, -0.1});
    expect_near(posed_of(setup, placement_of("stop", seat_at(5, 3))).faces.at(0).point_T, Vec3(275.2, 149.9, 0));
    expect_near(posed_of(setup, placement_of("stop", seat_at(6, 3))).faces.at(0).point_T, Vec3(325, 150, 0));
}

/// Angle plate in hole (4, 5), facing N; its face looks N, so right on it is -x = W.
Setup with_angle_plate(shop::Hand hand) {
    auto setup = seat_setup();
    Seat seat = seat_at(4, 5, {0, 1});
    seat.hand = hand;
    setup.stages[0].placements.push_back(placement_of("angle", seat, 60, 3));
    return setup;
}

Seat seat_on_plate(int col, int row) {
    Seat seat = seat_at(col, row);
    seat.host.kind = Host::Kind::placement;
    seat.host.placement = PlacementId{60};
    seat.host.face = "A";
    return seat;
}

TEST(Place, RestOnARightHandAnglePlate) {
    const auto setup = with_angle_plate(shop::Hand::right);
    // C of the plate: x N, y W. A1 of its face: C (20, -75, 30) = T (200 + 75, 250 + 20, 30). Column 3, row 2 of the 25
    // grid: 75 to the right = W, 50 up: (200, 270, 80); a rest 50 high ends at y = 320.
    const Posed posed = posed_of(setup, placement_of("rest", seat_on_plate(3, 2)));
    expect_near(posed.X_TC.position(), Vec3(200, 270, 80));
    expect_near(posed.faces.at(0).point_T, Vec3(200, 320, 80));
    expect_near(posed.faces.at(0).normal_T, Vec3::UnitY());
}

TEST(Place, LeftHandAnglePlateReadsFromItsOwnLowerLeft) {
    const auto setup = with_angle_plate(shop::Hand::left);
    // Mirrored across C's xz plane the holes run from C y = +75 down to 75 - 7·25 = -100: T x = 200 - 75 = 125 up to
    // 300. Seen from the north, left is E: A1 is at x = 300.
    const base::Result<HostGrid> grid = host_grid(setup, setup.stages[0], seat_on_plate(0, 0).host);
    ASSERT_TRUE(grid.ok());
    expect_near(grid->X_TH.position(), Vec3(300, 270, 30));
    expect_near(grid->X_TH.rotation().col(0), -Vec3::UnitX());
    expect_near(grid->X_TH.rotation().col(2), Vec3::UnitY());
    EXPECT_NEAR(grid->X_TH.rotation().determinant(), 1, exact);
    expect_near(posed_of(setup, placement_of("rest", seat_on_plate(3, 2))).X_TC.position(), Vec3(225, 270, 80));
}

TEST(Place, SecondPinFollowsTheDirectionOfTheMount) {
    // The angle plate's second hole lies 100 along its +y: facing N that is W, two holes.
    EXPECT_EQ(posed_of(with_angle_plate(shop::Hand::right), with_angle_plate(shop::Hand::right).stages[0].placements[0])
                  .second_hole,
              (shop::Hole{2, 5}));
}

TEST(Place, PiecesCarryLooseParts) {
    auto setup = seat_setup();
    // A bar 50 × 50 × 400 with its axis along M's y, lying 60 above the table.
    const Pose X_MP = Pose::move(100, 0, 0) * Pose::turn_x(base::Angle::deg(-90));
    add_pieces(setup, {bar_piece(7, "P4", Vec3(-25, -25, 0), Vec3(25, 25, 400), X_MP)});
    setup.stages[0].lay.X_TM = Pose::move(10, 20, 85);
    const weldment::Piece& bar = setup.weldments[0].model->pieces[0];
    // turn_x(-90) takes P's z to y and P's y to -z: the top is P's -y face, index 2.
    Seat seat;
    seat.host.kind = Host::Kind::piece;
    seat.host.pieces = {bar.id};
    seat.host.piece_faces = {weldment::face_key(bar, 2)};
    seat.turn = {0, 0};
    seat.turn_15deg = 2;
    seat.along_tenths = 1205;
    seat.across_tenths = 100;
    const Posed posed = posed_of(setup, placement_of("magnet", seat));
    // Corner at the start of the bar (y = 20); across = z × along = up × N = W, so it starts at the east edge x = 135.
    expect_near(posed.X_TC.position(), Vec3(135 - 10, 20 + 120.5, 110));
    // x of H is N; 30° on from it.
    expect_near(posed.X_TC.rotation().col(0), Vec3(-0.5, std::sqrt(3) / 2, 0));
    seat.turn = {1, 0};
    EXPECT_EQ(fault(setup, placement_of("magnet", seat)), "seat.turn_steps");
    EXPECT_EQ(fault(setup, placement_of("stop", seat)), "seat.needs_hole");
}

TEST(Place, FacesBridgedByABarMustBeParallel) {
    auto setup = seat_setup();
    add_pieces(setup, {bar_piece(7, "P4", Vec3(0, 0, 0), Vec3(50, 50, 400)),
                       bar_piece(8, "P5", Vec3(200, 0, 0), Vec3(250, 50, 400), Pose::turn_z(base::Angle::deg(0.02)))});
    const auto& pieces = setup.weldments[0].model->pieces;
    Host host;
    host.kind = Host::Kind::pieces;
    host.pieces = {pieces[0].id, pieces[1].id};
    host.piece_faces = {weldment::face_key(pieces[0], 5), weldment::face_key(pieces[1], 5)};
    EXPECT_TRUE(host_grid(setup, setup.stages[0], host).ok());
    // 0.02° is beyond limits::parallel_deg.
    host.piece_faces = {weldment::face_key(pieces[0], 0), weldment::face_key(pieces[1], 1)};
    const auto askew = host_grid(setup, setup.stages[0], host);
    ASSERT_FALSE(askew.ok());
    EXPECT_EQ(askew.error().text.id, "seat.pieces_not_parallel");
}

TEST(Place, FloorStandsBesideAnEdge) {
    const auto setup = seat_setup();
    Seat seat;
    seat.host.kind = Host::Kind::floor;
    seat.host.side = shop::TableSide::east;
    seat.turn = {0, 0};
    seat.along_tenths = 3000;
    seat.across_tenths = -1500;
    // East edge at x = 575, from its south end y = -25; the floor 850 below the top; along N, across W.
    expect_near(posed_of(setup, placement_of("magnet", seat)).X_TC.position(), Vec3(575 + 150, 275, -850));
}

TEST(Place, TurnsAreTheLatticeVectorsWithinTheSlot) {
    const auto setup = seat_setup();
    const HostGrid grid = *host_grid(setup, setup.stages[0], {});
    const std::vector<std::array<int, 2>> eight{{1, 0}, {0, 1}, {-1, 0}, {0, -1}, {1, 1}, {-1, 1}, {-1, -1}, {1, -1}};
    EXPECT_EQ(turns(stop_part(), grid), eight);
    EXPECT_EQ(turns(rest_part(), grid), (std::vector<std::array<int, 2>>{{1, 0}}));
    EXPECT_EQ(turns(clamp_part(), grid).size(), 4u);

    // 480 / 50 = 9.6: every primitive vector up to that length, counted by hand of gcd.
    std::size_t primitive = 0;
    for (int p = -9; p <= 9; ++p)
        for (int q = -9; q <= 9; ++q) primitive += std::gcd(p, q) == 1 && p * p + q * q <= 92 ? 1 : 0;
    const auto slopes = turns(slotted_part(), grid);
    EXPECT_EQ(slopes.size(), primitive);
    EXPECT_NE(std::find(slopes.begin(), slopes.end(), std::array{8, 5}), slopes.end());

    // On 100 × 50 the slot of 45 to 75 meets a hole only along the short pitch.
    HostGrid uneven = grid;
    uneven.pitch_x_mm = 100;
    EXPECT_EQ(turns(stop_part(), uneven), (std::vector<std::array<int, 2>>{{0, 1}, {0, -1}}));
    // A second pin to the side, 100 off: facing E or W it lies along the short pitch, facing N or S along the long one.
    EXPECT_EQ(turns(angle_plate_part(), uneven).size(), 4u);
}

TEST(Place, SixteenDoesNotFitFiveEighths) {
    auto setup = seat_setup();
    // 5/8 in = 15.875 (standards T6: the two do not interchange).
    setup.table.hole_mm = 15.875;
    EXPECT_EQ(fault(setup, placement_of("rest", seat_at(1, 1))), "seat.hole_size");
    setup.table.hole_mm = 16.05;
    EXPECT_EQ(fault(setup, placement_of("rest", seat_at(1, 1))), "");
}

TEST(Place, EachFaultOfASeatIsNamed) {
    auto setup = seat_setup();
    setup.table.blocked = {{2, 2}, {6, 6}};
    const auto stop = [&](const Seat& seat) { return fault(setup, placement_of("stop", seat)); };
    EXPECT_EQ(stop(seat_at(5, 5)), "");
    EXPECT_EQ(stop(seat_at(12, 5)), "seat.hole_unknown");
    EXPECT_EQ(stop(seat_at(-1, 5)), "seat.hole_unknown");
    EXPECT_EQ(stop(seat_at(2, 2)), "seat.hole_blocked");
    EXPECT_EQ(stop(seat_at(3, 2)), "seat.second_hole_blocked");
    EXPECT_EQ(stop(seat_at(0, 5)), "seat.second_hole_off");
    EXPECT_EQ(stop(seat_at(5, 5, {2, 1})), "seat.turn_not_allowed");
    EXPECT_EQ(stop(seat_at(5, 5, {2, 0})), "seat.turn_not_allowed");
    EXPECT_EQ(stop(seat_at(5, 5, {0, 0})), "seat.turn_steps");
    EXPECT_EQ(fault(setup, placement_of("rest", seat_at(5, 5, {0, 1}))), "seat.turn_none");
    EXPECT_EQ(fault(setup, placement_of("nothing", seat_at(5, 5))), "seat.component_unknown");

    Seat seat = seat_at(5, 5);
    seat.setting = 10;
    EXPECT_EQ(stop(seat), "seat.mark_unknown");
    seat = seat_at(5, 5);
    seat.plate = "100";
    EXPECT_EQ(stop(seat), "seat.plate_none");
    seat = seat_at(5, 5);
    seat.hand = shop::Hand::left;
    EXPECT_EQ(stop(seat), "seat.hand_none");
    EXPECT_EQ(fault(setup, placement_of("angle", seat_at(5, 5))), "seat.hand_needed");

    seat = seat_at(5, 5);
    seat.packers = {packer_of(Packer::Where::under, 20), packer_of(Packer::Where::under, 5)};
    EXPECT_EQ(stop(seat), "");
    seat.packers.push_back(packer_of(Packer::Where::under, 0.5));
    EXPECT_EQ(stop(seat), "seat.packers_too_high");
    seat.packers.assign(4, packer_of(Packer::Where::under, 1));
    EXPECT_EQ(stop(seat), "seat.packers_too_many");
    seat.packers = {packer_of(Packer::Where::face, 1)};
    EXPECT_EQ(fault(setup, placement_of("rest", seat)), "seat.packers_not_at_face");
    seat.packers[0].thickness_mm = 1.5;
    EXPECT_EQ(stop(seat), "seat.packer_thickness");
}

TEST(Place, AHoleHoldsOnePart) {
    auto setup = seat_setup();
    setup.stages[0].placements.push_back(placement_of("stop", seat_at(5, 5), 60, 4));
    EXPECT_EQ(fault(setup, placement_of("rest", seat_at(5, 5), 61)), "seat.hole_taken");
    // Its second pin stands in (4, 5); the stop facing W from (3, 5) would need that hole too.
    EXPECT_EQ(fault(setup, placement_of("rest", seat_at(4, 5), 61)), "seat.hole_taken");
    EXPECT_EQ(fault(setup, placement_of("stop", seat_at(3, 5, {-1, 0}), 61)), "seat.hole_taken");
    EXPECT_EQ(fault(setup, placement_of("rest", seat_at(6, 5), 61)), "");
    EXPECT_EQ(fault(setup, setup.stages[0].placements[0]), "");
}

TEST(Place, NothingStandsOnItself) {
    auto setup = with_angle_plate(shop::Hand::right);
    Placement plate = setup.stages[0].placements[0];
    plate.seat = seat_on_plate(1, 1);
    plate.seat.hand = shop::Hand::right;
    EXPECT_EQ(fault(setup, plate), "seat.host_loop");
    // Two plates, each on the other.
    Placement other = plate;
    other.id = PlacementId{61};
    setup.stages[0].placements[0].seat.host = other.seat.host;
    setup.stages[0].placements[0].seat.host.placement = other.id;
    setup.stages[0].placements.push_back(other);
    EXPECT_EQ(fault(setup, setup.stages[0].placements[0]), "seat.host_loop");
    EXPECT_EQ(fault(setup, placement_of("rest", seat_on_plate(1, 1), 70)), "seat.host_loop");
}

TEST(Place, NearestSeatIsTheNearestHoleThatIsFree) {
    auto setup = seat_setup();
    setup.table.blocked = {{5, 5}};
    const auto nearest = nearest_seat(setup, setup.stages[0], rest_part(), seat_at(0, 0), Vec3(252, 261, 400));
    ASSERT_TRUE(nearest);
    EXPECT_EQ(nearest->hole, (shop::Hole{5, 6}));
    // Dragged by a little it stays where it is: its own holes do not bar it.
    setup.stages[0].placements.push_back(placement_of("stop", seat_at(8, 8), 60));
    const auto same = nearest_seat(setup, setup.stages[0], stop_part(), seat_at(8, 8), Vec3(410, 395, 0));
    ASSERT_TRUE(same);
    EXPECT_EQ(*same, seat_at(8, 8));
    // Beyond the edge: the last hole.
    EXPECT_EQ(nearest_seat(setup, setup.stages[0], rest_part(), seat_at(0, 0), Vec3(9000, -9000, 0))->hole,
              (shop::Hole{11, 0}));
}

TEST(Place, NearestSeatKeepsTheFacingWhereTheNextGridAllowsIt) {
    auto setup = seat_setup();
    setup.table.pitch_x_mm = 100;
    // Facing NE of the 50 grid does not exist on 100 × 50 with this slot; N is nearer than S.
    const auto nearest = nearest_seat(setup, setup.stages[0], stop_part(), seat_at(3, 3, {1, 1}), Vec3(300, 150, 0));
    ASSERT_TRUE(nearest);
    EXPECT_EQ(nearest->turn, (std::array{0, 1}));
}

}  // namespace
}  // namespace setwright::setup
