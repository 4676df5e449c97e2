#include "core/check/contact.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "core/shop/catalogue.h"
#include "tests/core/check/example.h"

namespace setwright::check {
namespace {

/// Lengths of a few hundred millimetres in double.
constexpr double tight = 1e-9;

/// A placement of one posed face, as if it stood anywhere.
setup::Posed standing(const setup::PosedFace& face) {
    setup::Posed out;
    out.id = PlacementId{7};
    out.faces = {face};
    return out;
}

setup::PosedFace pad(const Pose& X_TK, double from, double to, double width) {
    setup::PosedFace face;
    face.id = "face";
    face.point_T = X_TK.position();
    face.normal_T = X_TK.rotation().col(0);
    face.up_T = X_TK.rotation().col(2);
    face.from_mm = from;
    face.to_mm = to;
    face.width_mm = width;
    return face;
}

const Pose skew = Pose::move(310, -45, 720) * Pose::turn_z(base::Angle::deg(33)) * Pose::turn_x(base::Angle::deg(-71));

std::vector<Contact> meet(const Job& job, const setup::PosedFace& face) {
    return contacts(job, job.stages[0], {standing(face)});
}

TEST(Contact, APadOverTheEdgeOfAFaceTouchesWithTheCommonRectangle) {
    Job job = job_with({bar(1, "P1", {0, -50, 0}, {40, 50, 60})});
    job.stages[0].lay.X_TM = skew;
    // Pad 40 wide around y 40, z 10 to 90, on the face x = 0: y 20 to 50, z 10 to 60 are common.
    const auto found = meet(job, pad(skew * Pose::move(0, 40, 0), 10, 90, 40));
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].kind, "plane");
    EXPECT_NEAR(found[0].area_mm2, 30 * 50, 1e-6);
    EXPECT_LT((found[0].point_T - skew * Vec3(0, 35, 35)).norm(), 1e-6);
    EXPECT_LT((found[0].normal_T - skew.turn(Vec3::UnitX())).norm(), tight);
    EXPECT_NEAR(found[0].gap_mm, 0, 1e-6);
    EXPECT_EQ(found[0].patch_T.size(), 4u);
}

TEST(Contact, AHoleInTheFaceIsNotTouched) {
    // Plate with a hole of 20 in its middle; the pad of 40 × 40 covers the hole.
    auto plate = space::Brep::cut(space::Brep::box({0, -50, -50}, {10, 50, 50}),
                                  space::Brep::cylinder({-1, 0, 0}, {11, 0, 0}, 10));
    ASSERT_TRUE(plate);
    const Job job = job_with({piece_of(1, "plate", *plate)});
    const auto found = meet(job, pad(Pose(), -20, 20, 40));
    ASSERT_EQ(found.size(), 1u);
    // The loop is a polygon within the mesh deflection of the true circle.
    EXPECT_NEAR(found[0].area_mm2, 40 * 40 - std::numbers::pi * 100,
                20 * std::numbers::pi * base::limits::mesh_deflection_mm);
    // A pad inside the hole touches nothing.
    EXPECT_TRUE(meet(job, pad(Pose(), -5, 5, 10)).empty());
}

TEST(Contact, TheGapIsSignedAndLimited) {
    const Job job = job_with({bar(1, "P1", {0, -50, 0}, {40, 50, 60})});
    const auto at = [&](double x) { return meet(job, pad(Pose::move(x, 0, 0), 10, 50, 40)); };
    ASSERT_EQ(at(-0.04).size(), 1u);
    EXPECT_NEAR(at(-0.04)[0].gap_mm, 0.04, tight);
    ASSERT_EQ(at(0.04).size(), 1u);
    EXPECT_NEAR(at(0.04)[0].gap_mm, -0.04, tight);
    EXPECT_TRUE(at(-0.06).empty());
    EXPECT_TRUE(at(0.06).empty());
    const auto near = contacts_within(job, job.stages[0], {standing(pad(Pose::move(-4, 0, 0), 10, 50, 40))}, 5);
    ASSERT_EQ(near.size(), 1u);
    EXPECT_NEAR(near[0].gap_mm, 4, tight);
}

TEST(Contact, AFaceOutOfParallelOrTurnedAwayIsNoContact) {
    const Job job = job_with({bar(1, "P1", {0, -50, 0}, {40, 50, 60})});
    EXPECT_EQ(meet(job, pad(Pose::turn_z(base::Angle::deg(0.04)), 10, 50, 20)).size(), 1u);
    EXPECT_TRUE(meet(job, pad(Pose::turn_z(base::Angle::deg(0.06)), 10, 50, 20)).empty());
    EXPECT_TRUE(meet(job, pad(Pose::turn_z(base::Angle::deg(180)), 10, 50, 20)).empty());
}

TEST(Contact, ARoundStopTouchesAFlatAlongALine) {
    Job job = job_with({bar(1, "P1", {0, -50, 0}, {40, 50, 60})});
    job.stages[0].lay.X_TM = Pose::turn_z(base::Angle::deg(30));
    setup::PosedFace round;
    round.shape = shop::FaceShape::cylinder;
    round.point_T = job.stages[0].lay.X_TM * Vec3(-15, 10, 0);
    round.normal_T = Vec3::UnitZ();
    round.from_mm = 20;
    round.to_mm = 95;
    round.diameter_mm = 30;
    const auto found = meet(job, round);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].kind, "line");
    ASSERT_EQ(found[0].patch_T.size(), 2u);
    // The face ends at 60 up.
    EXPECT_NEAR((found[0].patch_T[1] - found[0].patch_T[0]).norm(), 40, 1e-6);
    EXPECT_LT((found[0].point_T - job.stages[0].lay.X_TM * Vec3(0, 10, 40)).norm(), 1e-6);
    EXPECT_EQ(rows(found[0]).size(), 3u);
    round.point_T = job.stages[0].lay.X_TM * Vec3(-15.1, 10, 0);
    EXPECT_TRUE(meet(job, round).empty());
}

TEST(Contact, ARoundTubeLiesInAVOnTwoLines) {
    // V of 90 degrees: a bar of radius r has its axis r·√2 above the valley.
    const double r = 20;
    Job job = job_with({piece_of(1, "bar", space::Brep::cylinder({0, 0, 0}, {300, 0, 0}, r))});
    setup::PosedFace v;
    v.shape = shop::FaceShape::v;
    v.point_T = Vec3(100, 0, -r * std::sqrt(2.0));
    v.normal_T = Vec3::UnitX();
    v.up_T = Vec3::UnitZ();
    v.from_mm = 5;
    v.to_mm = 40;
    v.width_mm = 50;
    v.v_angle_deg = 90;
    const auto found = meet(job, v);
    ASSERT_EQ(found.size(), 2u);
    for (const Contact& contact : found) {
        EXPECT_EQ(contact.kind, "line");
        EXPECT_NEAR(contact.gap_mm, 0, 1e-9);
        EXPECT_NEAR(contact.normal_T.z(), std::sqrt(0.5), tight);
        EXPECT_NEAR((contact.point_T - Vec3(100, 0, 0)).norm(), r, 1e-6);
        EXPECT_NEAR((contact.patch_T[1] - contact.patch_T[0]).norm(), 50, 1e-6);
    }
    EXPECT_NEAR(found[0].normal_T.y(), -found[1].normal_T.y(), tight);
}

TEST(Contact, ATubesEndOnAPlateTouchesWithItsWallOnly) {
    // 50 × 50 × 3 tube: 50² - 44² = 564 mm² of wall.
    auto tube =
        space::Brep::cut(space::Brep::box({0, 0, 10}, {50, 50, 210}), space::Brep::box({3, 3, 0}, {47, 47, 220}));
    ASSERT_TRUE(tube);
    Job job = job_with({bar(1, "plate", {-50, -50, 0}, {150, 100, 10}), piece_of(2, "tube", *tube)});
    job.stages[0].lay.X_TM = skew;
    const auto found = contacts(job, job.stages[0], {});
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].piece, PieceId{2});
    EXPECT_EQ(found[0].other, PieceId{1});
    EXPECT_NEAR(found[0].area_mm2, 50 * 50 - 44 * 44, 1e-5);
    EXPECT_LT((found[0].normal_T - skew.turn(Vec3::UnitZ())).norm(), tight);
    EXPECT_LT((found[0].point_T - skew * Vec3(25, 25, 10)).norm(), 1e-6);
    // Centre and both pairs.
    EXPECT_EQ(rows(found[0]).size(), 5u);
}

TEST(Contact, TheLaterLoadedPieceIsLocatedByTheEarlier) {
    Job job = job_with({bar(1, "a", {0, 0, 0}, {50, 50, 50}), bar(2, "b", {50, 0, 0}, {100, 50, 50})});
    EXPECT_EQ(contacts(job, job.stages[0], {})[0].piece, PieceId{2});
    job.stages[0].held_by[PieceId{1}] = HeldBy::nested;
    EXPECT_EQ(contacts(job, job.stages[0], {})[0].piece, PieceId{1});
    setup::Step first, second;
    first.kind = second.kind = setup::StepKind::load;
    first.pieces = {PieceId{1}};
    second.pieces = {PieceId{2}};
    job.stages[0].order = {first, second};
    EXPECT_EQ(contacts(job, job.stages[0], {})[0].piece, PieceId{2});
}

TEST(Contact, APatchGivesPairsOnlyInTheDirectionsInWhichItIsLong) {
    Job job = job_with({bar(1, "P1", {0, -50, 0}, {40, 50, 60})});
    job.stages[0].lay.X_TM = skew;
    const auto count = [&](double height, double width) {
        return rows(meet(job, pad(skew, 5, 5 + height, width))[0]).size();
    };
    EXPECT_EQ(count(10, 10), 1u);
    EXPECT_EQ(count(25, 10), 3u);
    EXPECT_EQ(count(10, 25), 3u);
    EXPECT_EQ(count(25, 25), 5u);
}

setup::PosedFace pin(const Vec3& at, double diameter, const Vec3& up = Vec3::UnitY()) {
    setup::PosedFace face;
    face.id = "pin";
    face.shape = shop::FaceShape::cylinder;
    face.point_T = at;
    face.normal_T = Vec3::UnitZ();
    face.up_T = up;
    face.from_mm = 47;
    face.to_mm = 61.4;
    face.diameter_mm = diameter;
    return face;
}

space::Brep plate_with_holes(double radius = 9) {
    // 400 × 300 × 12, two holes of 18 at (40, 40) and (360, 260); lies at z 50.
    auto brep = space::Brep::cut(space::Brep::box({0, 0, 50}, {400, 300, 62}),
                                 space::Brep::cylinder({40, 40, 40}, {40, 40, 70}, radius));
    SETWRIGHT_ASSERT(brep.ok(), "a plate with a hole");
    brep = space::Brep::cut(*brep, space::Brep::cylinder({360, 260, 40}, {360, 260, 70}, radius));
    SETWRIGHT_ASSERT(brep.ok(), "a plate with two holes");
    return *brep;
}

TEST(Contact, ARoundPinHoldsAcrossItsAxisAndARelievedOneAlongItsUp) {
    const Job job = job_with({piece_of(1, "plate", plate_with_holes())});
    auto round = pin({40, 40, 0}, 17.95);
    const auto found = meet(job, round);
    ASSERT_EQ(found.size(), 2u);
    EXPECT_NEAR(found[0].normal_T.dot(found[1].normal_T), 0, tight);
    for (const Contact& c : found) {
        EXPECT_EQ(c.kind, "point");
        EXPECT_TRUE(c.both_ways);
        // Play 0.05, half of it to each side; band 47 to 61.4 in the plate from 50: middle 55.7.
        EXPECT_NEAR(c.gap_mm, 0.025, 1e-6);
        EXPECT_LT((c.point_T - (Vec3(40, 40, 55.7) + c.normal_T * 17.95 / 2)).norm(), 1e-6);
        EXPECT_EQ(rows(c).size(), 1u);
    }
    round.relieved = true;
    round.up_T = Vec3(0.6, 0.8, 0);
    const auto one = meet(job, round);
    ASSERT_EQ(one.size(), 1u);
    EXPECT_LT((one[0].normal_T - round.up_T).norm(), tight);
}

TEST(Contact, APinTooThinTooThickOrBesideItsHoleHoldsNothing) {
    const Job job = job_with({piece_of(1, "plate", plate_with_holes())});
    EXPECT_EQ(meet(job, pin({40, 40, 0}, 17.5)).size(), 2u);
    EXPECT_TRUE(meet(job, pin({40, 40, 0}, 17.4)).empty());
    EXPECT_TRUE(meet(job, pin({40, 40, 0}, 18.1)).empty());
    EXPECT_TRUE(meet(job, pin({40.3, 40, 0}, 17.9)).empty());
    const auto near = contacts_within(job, job.stages[0], {standing(pin({40, 40, 0}, 17.4))}, 10);
    ASSERT_EQ(near.size(), 2u);
    EXPECT_NEAR(near[0].gap_mm, 0.3, 1e-6);
}

TEST(Contact, ARoundStopMeetsARoundTubeInALineOrAPoint) {
    setup::PosedFace round = pin({0, 0, 0}, 30);
    // Side by side: tube of 40 at 15 + 20 off, upright, 50 to 58 up.
    const Job upright = job_with({piece_of(1, "tube", space::Brep::cylinder({35, 0, 50}, {35, 0, 58}, 20))});
    auto found = meet(upright, round);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].kind, "line");
    EXPECT_NEAR((found[0].patch_T[1] - found[0].patch_T[0]).norm(), 8, 1e-6);
    EXPECT_LT((found[0].point_T - Vec3(15, 0, 54)).norm(), 1e-6);
    // Crossing: the tube lies along y, its axis 55 up.
    const Job lying = job_with({piece_of(1, "tube", space::Brep::cylinder({35, -90, 55}, {35, 80, 55}, 20))});
    found = meet(lying, round);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].kind, "point");
    EXPECT_NEAR(found[0].gap_mm, 0, 1e-6);
    EXPECT_LT((found[0].point_T - Vec3(15, 0, 55)).norm(), 1e-6);
    EXPECT_LT((found[0].normal_T - Vec3::UnitX()).norm(), tight);
}

/// Three pads under the plate and two pins, as posed faces.
struct OnPins {
    Job job = job_with({piece_of(1, "plate", plate_with_holes())});
    std::vector<setup::Posed> standing_here;
    OnPins(setup::PosedFace a, setup::PosedFace b) {
        for (const Vec3& at : {Vec3(100, 50, 50), Vec3(300, 50, 50), Vec3(200, 250, 50)}) {
            put(job, rest(), {0, 0});
            setup::PosedFace face;
            face.id = "face";
            face.point_T = at;
            face.normal_T = Vec3::UnitZ();
            face.up_T = Vec3::UnitX();
            face.from_mm = -5;
            face.to_mm = 5;
            face.width_mm = 10;
            add(face);
        }
        shop::Component carrier = bolted("pin", shop::Family::pin_carrier);
        for (const auto& face : {a, b}) {
            put(job, carrier, {0, 0});
            add(face);
        }
    }
    void add(const setup::PosedFace& face) {
        setup::Posed one = standing(face);
        one.id = job.stages[0].placements.back().id;
        standing_here.push_back(one);
    }
    std::string findings() const {
        std::string out;
        for (const Finding& f :
             check_locating(job, job.stages[0], standing_here, contacts(job, job.stages[0], standing_here)))
            if (f.verdict != Verdict::cancelled) out += f.rule + ": " + said(f) + "\n";
        return out;
    }
};

const Vec3 across_the_line = Vec3(-220, 320, 0).normalized(), along_the_line = Vec3(320, 220, 0).normalized();

setup::PosedFace relieved(const Vec3& up, double diameter = 17.95) {
    auto out = pin({360, 260, 0}, diameter, up);
    out.relieved = true;
    return out;
}

TEST(Pins, ARoundAndARelievedPinHoldAPlateOnThreeRestsOnce) {
    // 3 rests: z and both tilts; round pin: x, y; relieved pin across the line of holes: the turn. Six in all.
    EXPECT_THAT(OnPins(pin({40, 40, 0}, 17.95), relieved(across_the_line)).findings(),
                testing::AllOf(testing::HasSubstr("cannot slide or turn"), testing::Not(testing::HasSubstr("twice"))));
}

TEST(Pins, TwoRoundPinsHoldAPlateTwice) {
    EXPECT_THAT(OnPins(pin({40, 40, 0}, 17.95), pin({360, 260, 0}, 17.95)).findings(),
                testing::HasSubstr("plate is held twice by block 4 and block 5"));
}

TEST(Pins, ARelievedPinTurnedTheWrongWayLeavesTheTurnFree) {
    const std::string said = OnPins(pin({40, 40, 0}, 17.95), relieved(along_the_line)).findings();
    EXPECT_THAT(said, testing::HasSubstr("locating.free: plate can still turn"));
    EXPECT_THAT(said, testing::HasSubstr("held twice by block 4 and block 5"));
}

TEST(Pins, APinTooThinSaysByHowMuch) {
    EXPECT_THAT(OnPins(pin({40, 40, 0}, 17.95), relieved(across_the_line, 17.4)).findings(),
                testing::HasSubstr("The pin of block 5 has 0.3 mm of air all round in the hole of plate"));
}

/// Fails of the locating and clearance rules: the shelf is not asked here.
std::string faults_on_carriers(double hole_radius) {
    static const auto catalogue = shop::load_catalogue(std::string(SETWRIGHT_RESOURCES_DIR) + "/catalogue");
    SETWRIGHT_ASSERT(catalogue.ok(), "the catalogue loads");
    const shop::Component& carrier = *catalogue->find("m50-pin-carrier");
    Job job = job_with({piece_of(1, "plate", plate_with_holes(hole_radius))});
    // Holes of the plate at (250, 230) and (570, 450).
    job.stages[0].lay.X_TM = Pose::move(210, 190, 0);
    put(job, rest(), {7, 5});
    put(job, rest(), {11, 5});
    put(job, rest(), {8, 8});
    // Mark n puts the pin 55 + n before the hole: 150 + 55 + 25 = 230, 500 + 55 + 15 = 570.
    put(job, carrier, {5, 3}, north);
    job.stages[0].placements.back().seat.plate = "round-18";
    job.stages[0].placements.back().seat.setting = 25;
    put(job, carrier, {10, 9}, east);
    job.stages[0].placements.back().seat.plate = "relieved-18";
    job.stages[0].placements.back().seat.setting = 15;
    std::string out;
    for (const Finding& f : check(job).findings)
        if (f.verdict == Verdict::fail && (f.rule.starts_with("locating.") || f.rule.starts_with("clearance.")))
            out += f.rule + ": " + said(f) + "\n";
    return out;
}

TEST(Pins, CatalogueCarriersHoldAPlateWithoutRunningIntoIt) {
    EXPECT_EQ(faults_on_carriers(9), "");
}

TEST(Pins, APinThickerThanItsHoleRunsIntoThePlate) {
    const std::string said = faults_on_carriers(8.5);
    EXPECT_THAT(said, testing::HasSubstr("clearance.collision: block 4 runs into plate"));
    EXPECT_THAT(said, testing::HasSubstr("clearance.collision: block 5 runs into plate"));
    EXPECT_THAT(said, testing::HasSubstr("The pin of block 4 does not go into the hole of plate"));
}

}  // namespace
}  // namespace setwright::check
