#include "core/check/contact.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

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

}  // namespace
}  // namespace setwright::check
