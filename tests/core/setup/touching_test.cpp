#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <map>
#include <numbers>
#include <random>
#include <set>
#include <tuple>

#include "core/base/limits.h"
#include "core/setup/place.h"
#include "tests/core/setup/parts.h"

namespace setwright::setup {
namespace {

/// Exact means exact here: what hole, mark and packers can make to the last digit.
constexpr double exact_mm = 1e-6;
constexpr int all = 1000000;

/// Which seat, apart from how a stack of packers is made up.
using Key = std::tuple<shop::Hole, std::array<int, 2>, shop::Hand, int, long>;
Key key_of(const Seat& seat) {
    double sum = 0;
    for (const Packer& packer : seat.packers) sum += packer.thickness_mm;
    return {seat.hole, seat.turn, seat.hand, seat.setting, std::lround(sum * 1000)};
}

/// Signed distance of the posed face from the piece's plane and whether the two overlap, worked out in T by pose()
/// alone.
struct Meeting {
    bool looks_at_it = false;
    double gap_mm = 0;
    double common_mm2 = 0;
};
Meeting meeting(const Setup& setup, const PosedFace& face, const weldment::Piece& piece, int index) {
    const space::Pose X_TP = setup.stages[0].lay.X_TM * piece.X_MP;
    const space::Face& wanted = piece.solid->faces[static_cast<std::size_t>(index)];
    const Vec3 out = X_TP.turn(wanted.surface.axis);
    Meeting met;
    const bool round = face.shape == shop::FaceShape::cylinder;
    const double sine = base::sin(base::Angle::deg(base::limits::parallel_deg));
    met.looks_at_it = round ? std::abs(face.normal_T.dot(out)) <= sine
                            : face.normal_T.dot(out) < 0 && face.normal_T.cross(out).norm() <= sine;
    met.gap_mm = out.dot(face.point_T - X_TP * wanted.surface.point) - (round ? face.diameter_mm / 2 : 0);
    const Vec3 up = round ? face.normal_T : face.up_T;
    const Vec3 aside = up.cross(out);
    const double half = round ? 0.5 : face.width_mm / 2;
    space::Polygon2 polygon;
    for (const Vec3& p : wanted.loops[0].polyline) {
        const Vec3 d = X_TP * p - face.point_T;
        polygon.emplace_back(d.dot(aside), d.dot(up));
    }
    const space::Polygon2 window{{-half, face.from_mm}, {half, face.from_mm}, {half, face.to_mm}, {-half, face.to_mm}};
    met.common_mm2 = std::abs(space::area(space::clip_to_convex(polygon, window)));
    return met;
}

/// Every hole × turn × hand × mark × sum of packers, tried one by one.
std::set<Key> brute_force(const Setup& setup, const shop::Component& component, const Host& host,
                          const weldment::Piece& piece, int index, Packer::Where where, bool packers) {
    const HostGrid grid = *host_grid(setup, setup.stages[0], host);
    std::map<long, std::vector<double>> sums{{0, {}}};
    constexpr std::array sizes{0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 0.0};
    if (packers) {
        for (const double a : sizes)
            for (const double b : sizes)
                for (const double c : sizes) {
                    if (a + b + c > base::limits::packer_stack_mm) continue;
                    std::vector<double> stack;
                    for (const double t : {a, b, c})
                        if (t > 0) stack.push_back(t);
                    sums.emplace(std::lround((a + b + c) * 1000), stack);
                }
    }
    std::vector<shop::Hand> hands{shop::Hand::none};
    if (component.handed) hands = {shop::Hand::right, shop::Hand::left};
    std::set<Key> found;
    for (int col = 0; col < grid.cols; ++col) {
        for (int row = 0; row < grid.rows; ++row) {
            for (const std::array<int, 2>& turn : turns(component, grid)) {
                for (const shop::Hand hand : hands) {
                    const int first = component.setting ? component.setting->first : 0;
                    const int last = component.setting ? component.setting->last : 0;
                    for (int mark = first; mark <= last; ++mark) {
                        Seat seat = seat_at(col, row, turn);
                        seat.host = host;
                        seat.hand = hand;
                        seat.setting = mark;
                        const base::Result<Posed> bare = pose(setup, setup.stages[0], placement_of(component.id, seat));
                        if (!bare || !meeting(setup, bare->faces[0], piece, index).looks_at_it) continue;
                        for (const auto& [sum, stack] : sums) {
                            seat.packers.clear();
                            for (const double t : stack) seat.packers.push_back(packer_of(where, t));
                            const base::Result<Posed> posed =
                                pose(setup, setup.stages[0], placement_of(component.id, seat));
                            if (!posed) continue;
                            const Meeting met = meeting(setup, posed->faces[0], piece, index);
                            if (std::abs(met.gap_mm) <= exact_mm && met.common_mm2 >= base::limits::touch_area_mm2)
                                found.insert(key_of(seat));
                        }
                    }
                }
            }
        }
    }
    return found;
}

std::set<Key> solved(const Setup& setup, const shop::Component& component, const Host& host,
                     const weldment::Piece& piece, int index) {
    std::set<Key> found;
    for (const TouchingSeat& t :
         seats_touching(setup, setup.stages[0], component, host, piece.id, index, Vec3(150, 150, 50), all)) {
        const base::Result<Posed> posed = pose(setup, setup.stages[0], placement_of(component.id, t.seat));
        EXPECT_TRUE(posed.ok());
        if (!posed) continue;
        // The gap it promises is the gap that the pose has.
        EXPECT_NEAR(meeting(setup, posed->faces[0], piece, index).gap_mm, t.gap_mm, 1e-9);
        if (std::abs(t.gap_mm) > exact_mm) continue;
        EXPECT_TRUE(found.insert(key_of(t.seat)).second) << "told twice";
    }
    return found;
}

Setup small_setup() {
    Setup setup = seat_setup();
    setup.table.cols = setup.table.rows = 6;
    return setup;
}

/// A bar 60 × 50 in section and 180 long, its axis in the table plane at `angle`, one corner at `at`.
weldment::Piece bar_at(double angle_deg, const Vec3& at) {
    return bar_piece(7, "P1", Vec3(0, 0, 0), Vec3(180, 60, 50),
                     Pose::move(at) * Pose::turn_z(base::Angle::deg(angle_deg)));
}

void expect_same(const Setup& setup, const shop::Component& c, const Host& host, int index, Packer::Where where,
                 bool packers, std::size_t& seats) {
    const weldment::Piece& piece = setup.weldments[0].model->pieces[0];
    const std::set<Key> expected = brute_force(setup, c, host, piece, index, where, packers);
    EXPECT_EQ(solved(setup, c, host, piece, index), expected);
    seats += expected.size();
}

TEST(Touching, UprightFacesAgreeWithBruteForce) {
    // Straight, along the diagonal, along the slope 2:1, and askew to every hole line. Faces stand half millimetres off
    // the line through hole (3, 2), so that marks and packers can make them up.
    std::mt19937 random(11);
    for (const auto& [angle, can_be_exact] :
         {std::pair(0.0, true), std::pair(std::numbers::pi / 4, true), std::pair(std::numbers::pi / 2, true),
          std::pair(std::atan2(1, 2), true), std::pair(0.6, false)}) {
        std::size_t seats = 0;
        for (int trial = 0; trial < 3; ++trial) {
            const double off = 25 + static_cast<double>(random() % 90) / 2;
            const Vec3 along(std::cos(angle), std::sin(angle), 0), normal(-std::sin(angle), std::cos(angle), 0);
            auto setup = small_setup();
            add_pieces(setup, {bar_at(angle * 180 / std::numbers::pi, Vec3(150, 100, 10) + off * normal - 30 * along)});
            for (const int index : {2, 3}) expect_same(setup, stop_part(), {}, index, Packer::Where::face, true, seats);
            shop::Component sloped = slotted_part();
            sloped.id = "sloped";
            sloped.mount.second = shop::Mount::Second{40, 125, Vec2(-1, 0)};
            sloped.setting = shop::Setting{Vec3::UnitX(), 0.5, 0, 90};
            sloped.packers_at_face = false;
            setup.components["sloped"] = std::make_shared<const shop::Component>(sloped);
            expect_same(setup, sloped, {}, 2, Packer::Where::face, false, seats);
        }
        EXPECT_EQ(seats > 0, can_be_exact) << angle;
    }
}

TEST(Touching, UnequalPitchAgreesWithBruteForce) {
    std::size_t seats = 0;
    auto setup = small_setup();
    setup.table.pitch_x_mm = 100;
    // Along (2, 1) in holes of 100 × 50, 14.036 degrees.
    const double angle = std::atan2(50, 200) * 180 / std::numbers::pi;
    add_pieces(setup, {bar_at(angle, Vec3(150, 50, 10))});
    shop::Component sloped = slotted_part();
    sloped.mount.second = shop::Mount::Second{40, 260, Vec2(-1, 0)};
    // The face looks to the part's left, so that it lies along the slope.
    sloped.faces[0].normal = Vec3::UnitY();
    sloped.faces[0].point = Vec3(0, 20, 0);
    sloped.setting = shop::Setting{Vec3::UnitY(), 0.5, 0, 100};
    sloped.packers_at_face = false;
    sloped.id = "sloped";
    setup.components["sloped"] = std::make_shared<const shop::Component>(sloped);
    // Its face moved onto a hole line: 40 along the normal from hole (3, 1), 60 behind it along the slope.
    const Vec3 normal(-std::sin(angle * std::numbers::pi / 180), std::cos(angle * std::numbers::pi / 180), 0);
    const Vec3 along(normal.y(), -normal.x(), 0);
    setup.stages[0].lay.X_TM = Pose::move(Vec3(300, 50, 0) + 40 * normal - 60 * along - Vec3(150, 50, 0));
    expect_same(setup, sloped, {}, 2, Packer::Where::face, false, seats);
    EXPECT_GE(seats, 1u);
}

TEST(Touching, RestsAgreeWithBruteForce) {
    std::size_t seats = 0;
    for (const double height : {50.0, 52.5, 75.0, 75.5, 49.0}) {
        auto setup = small_setup();
        setup.table.blocked = {{2, 2}};
        add_pieces(setup, {bar_at(20, Vec3(60, 40, height))});
        expect_same(setup, rest_part(), {}, 4, Packer::Where::under, true, seats);
    }
    EXPECT_GT(seats, 20u);
}

TEST(Touching, RoundStopsAgreeWithBruteForceAtAnyAngle) {
    auto setup = small_setup();
    shop::Component round = rest_part();
    round.id = "round";
    shop::LocatingFace side;
    side.id = "side";
    side.shape = shop::FaceShape::cylinder;
    side.normal = Vec3::UnitZ();
    side.to_mm = 60;
    side.diameter_mm = 40;
    round.faces = {side};
    round.packers_under = false;
    setup.components["round"] = std::make_shared<const shop::Component>(round);
    // The line through holes (1, 1) and (4, 3), 20 = its radius further on: those two holes are exact.
    const double angle = std::atan2(2, 3);
    const Vec3 normal(-std::sin(angle), std::cos(angle), 0);
    add_pieces(setup, {bar_at(angle * 180 / std::numbers::pi, Vec3(50, 50, 10) + 20 * normal)});
    std::size_t seats = 0;
    expect_same(setup, round, {}, 2, Packer::Where::face, false, seats);
    EXPECT_EQ(seats, 2u);
}

TEST(Touching, PadsOnAnAnglePlateAgreeWithBruteForce) {
    for (const shop::Hand hand : {shop::Hand::right, shop::Hand::left}) {
        auto setup = small_setup();
        Seat plate = seat_at(4, 3, {0, 1});
        plate.hand = hand;
        setup.stages[0].placements.push_back(placement_of("angle", plate, 60, 3));
        // The plate's face lies at y = 150 + 20; a pad ends 50 before it.
        add_pieces(setup, {bar_at(0, Vec3(100, 221.5, 40))});
        Host host;
        host.kind = Host::Kind::placement;
        host.placement = PlacementId{60};
        host.face = "A";
        std::size_t seats = 0;
        expect_same(setup, rest_part(), host, 2, Packer::Where::under, true, seats);
        EXPECT_GT(seats, 5u);
    }
}

TEST(Touching, NearestExactSeatComesFirst) {
    auto setup = seat_setup();
    add_pieces(setup, {bar_piece(7, "P1", Vec3(100, 207, 10), Vec3(500, 267, 60))});
    const auto found = seats_touching(setup, setup.stages[0], stop_part(), {}, PieceId{7}, 2, Vec3(310, 207, 30), 5);
    ASSERT_EQ(found.size(), 5u);
    // Facing N from row 3 (y = 150): 25 + mark 6 (30) = 205, packer 2: 207.
    EXPECT_EQ(found[0].seat.hole, (shop::Hole{6, 3}));
    EXPECT_EQ(found[0].seat.turn, (std::array{0, 1}));
    EXPECT_EQ(found[0].seat.setting, 6);
    EXPECT_EQ(found[0].seat.packers, (std::vector<Packer>{packer_of(Packer::Where::face, 2)}));
    EXPECT_NEAR(found[0].gap_mm, 0, exact_mm);
    EXPECT_EQ(found[0].face, "front");
}

TEST(Touching, HolesTakenAndFacesOutOfReachAreLeftOut) {
    auto setup = seat_setup();
    add_pieces(setup, {bar_piece(7, "P1", Vec3(100, 207, 10), Vec3(500, 267, 60))});
    setup.stages[0].placements.push_back(placement_of("rest", seat_at(6, 3), 60));
    for (const TouchingSeat& t :
         seats_touching(setup, setup.stages[0], stop_part(), {}, PieceId{7}, 2, Vec3(310, 207, 30), all))
        EXPECT_NE(t.seat.hole, (shop::Hole{6, 3}));
    // 300 up, above every band.
    setup.stages[0].lay.X_TM = Pose::move(0, 0, 300);
    EXPECT_TRUE(
        seats_touching(setup, setup.stages[0], stop_part(), {}, PieceId{7}, 2, Vec3(310, 207, 30), all).empty());
}

TEST(Touching, WithoutMarksOrPackersTheGapIsTold) {
    auto setup = seat_setup();
    shop::Component fixed = stop_part();
    fixed.id = "fixed";
    fixed.setting.reset();
    fixed.packers_at_face = false;
    setup.components["fixed"] = std::make_shared<const shop::Component>(fixed);
    add_pieces(setup, {bar_piece(7, "P1", Vec3(100, 207, 10), Vec3(500, 267, 60))});
    const auto found = seats_touching(setup, setup.stages[0], fixed, {}, PieceId{7}, 2, Vec3(310, 207, 30), 3);
    ASSERT_FALSE(found.empty());
    // Row 3: the face stands at 150 + 25 = 175, 32 short of 207.
    EXPECT_NEAR(found[0].gap_mm, 32, exact_mm);
}

TEST(Touching, ABigTableWithManyPlatesStaysQuick) {
    auto setup = seat_setup();
    setup.table.cols = 48;
    setup.table.rows = 24;
    shop::Component plated = slotted_part();
    plated.id = "plated";
    for (int i = 0; i < 15; ++i) {
        shop::Plate plate;
        plate.id = std::to_string(i);
        plate.faces = plated.faces;
        plated.plates.push_back(plate);
    }
    plated.faces.clear();
    setup.components["plated"] = std::make_shared<const shop::Component>(plated);
    add_pieces(setup, {bar_piece(7, "P1", Vec3(100, 207.3, 10), Vec3(2200, 267, 60))});
    const auto start = std::chrono::steady_clock::now();
    const auto found = seats_touching(setup, setup.stages[0], plated, {}, PieceId{7}, 2, Vec3(310, 207, 30), 20);
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
    EXPECT_EQ(found.size(), 20u);
    RecordProperty("seconds", std::to_string(took.count()));
    // Generous: sanitizers and a busy machine. One by one it would be 48 · 24 · 230 turns · 10 marks · 15 plates · 60
    // stacks.
    EXPECT_LT(took.count(), 5.0);
}

}  // namespace
}  // namespace setwright::setup
