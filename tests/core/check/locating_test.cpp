#include "core/check/locating.h"

#include <gtest/gtest.h>

#include "tests/core/check/example.h"

namespace setwright::check {
namespace {

using testing::HasSubstr;

/// Worked example A: block 300 × 200 × 100, three supports, two side stops, one end stop. Numbers T1.1 to T1.14 were
/// derived for this project with exact rationals; the theory is Asada & By 1985 (deterministic location) and Cai, Hu &
/// Yuan 1997 (errors). Printed digits are matched to half of the last one.
struct BlockA {
    std::vector<Vec3> points{{50, 50, 0}, {250, 50, 0}, {150, 150, 0}, {50, 0, 50}, {250, 0, 50}, {0, 100, 50}};
    std::vector<Vec3> normals{Vec3::UnitZ(), Vec3::UnitZ(), Vec3::UnitZ(), Vec3::UnitY(), Vec3::UnitY(), Vec3::UnitX()};

    /// Rows as check::rows gives them for point contacts.
    Eigen::Matrix<double, 6, 6> matrix() const {
        Eigen::Matrix<double, 6, 6> g;
        for (std::size_t i = 0; i < 6; ++i) {
            Contact contact;
            contact.point_T = points[i];
            contact.normal_T = normals[i];
            const auto r = rows(contact);
            EXPECT_EQ(r.size(), 1u);
            g.row(static_cast<Eigen::Index>(i)) = r[0];
        }
        return g;
    }
    Row shift(std::size_t contact, double error) const {
        Row e = Row::Zero();
        e[static_cast<Eigen::Index>(contact)] = error;
        return matrix().inverse() * e;
    }
};

Vec3 moves(const Row& q, const Vec3& point) {
    return q.head<3>() + Vec3(q.tail<3>()).cross(point);
}

void expect_row(const Row& found, std::array<double, 6> expected) {
    for (Eigen::Index i = 0; i < 6; ++i) EXPECT_NEAR(found[i], expected[static_cast<std::size_t>(i)], 1e-9) << i;
}

TEST(Locating, DeterminantIsTwiceTheSupportTriangleTimesTheStopDistance) {  // T1.1
    EXPECT_NEAR(BlockA{}.matrix().determinant(), 2 * 10000.0 * 200, 1e-3);
    EXPECT_EQ(locate(BlockA{}.points, BlockA{}.normals).rank, 6);
}

TEST(Locating, ScaledSingularValuesAboutTheCentroid) {  // T1.2
    const Location found = locate(BlockA{}.points, BlockA{}.normals);
    EXPECT_NEAR(found.about_T.x(), 125, 5e-4);
    EXPECT_NEAR(found.about_T.y(), 58.333, 5e-4);
    EXPECT_NEAR(found.about_T.z(), 25, 5e-4);
    EXPECT_NEAR(found.scale_mm, 115.168958, 5e-7);
    const double expected[] = {1.854752, 1.563474, 1.283902, 1.182015, 0.887870, 0.670150};
    for (std::size_t i = 0; i < 6; ++i) EXPECT_NEAR(found.singular[i], expected[i], 5e-7);
    EXPECT_NEAR(found.condition(), 2.767666, 5e-7);
}

TEST(Locating, WithoutScalingTheConditionMeansNothing) {  // T1.3: the same geometry as T1.2
    const Location found = locate(BlockA{}.points, BlockA{}.normals, Vec3::Zero().eval(), 1.0);
    EXPECT_NEAR(found.singular.front(), 329.6276613, 5e-8);
    EXPECT_NEAR(found.singular.back(), 0.5833863, 5e-8);
    EXPECT_NEAR(found.condition(), 565.0247, 5e-5);
}

TEST(Locating, AboutTheBlocksCentre) {  // T1.4
    const Location found = locate(BlockA{}.points, BlockA{}.normals, Vec3(150, 100, 50), 100.0);
    const double expected[] = {1.762415, 1.414214, 1.414214, 1.414214, 1, 0.802429};
    double product = 1;
    for (std::size_t i = 0; i < 6; ++i) {
        EXPECT_NEAR(found.singular[i], expected[i], 5e-7);
        product *= found.singular[i];
    }
    EXPECT_NEAR(found.condition(), 2.196349, 5e-7);
    EXPECT_NEAR(product, 4, 1e-9);
}

TEST(Locating, OneLocatorOffByATenthMovesTheBlockAsDerived) {  // T1.5 to T1.9
    const BlockA block;
    const Vec3 far(300, 200, 100);
    expect_row(block.shift(3, 0.1), {-0.05, 0.125, 0, 0, 0, -0.0005});
    EXPECT_LT((moves(block.shift(3, 0.1), far) - Vec3(0.05, -0.025, 0)).norm(), 1e-9);
    expect_row(block.shift(4, 0.1), {0.05, -0.025, 0, 0, 0, 0.0005});
    EXPECT_LT((moves(block.shift(4, 0.1), far) - Vec3(-0.05, 0.125, 0)).norm(), 1e-9);
    expect_row(block.shift(0, 0.1), {-0.025, -0.025, 0.15, -0.0005, 0.0005, 0});
    EXPECT_LT((moves(block.shift(0, 0.1), far) - Vec3(0.025, 0.025, -0.1)).norm(), 1e-9);
    expect_row(block.shift(2, 0.1), {0, 0.05, -0.05, 0.001, 0, 0});
    EXPECT_LT((moves(block.shift(2, 0.1), far) - Vec3(0, -0.05, 0.15)).norm(), 1e-9);
    expect_row(block.shift(5, 0.1), {0.1, 0, 0, 0, 0, 0});
}

TEST(Locating, AllLocatorsOffAddUpAsDerived) {  // T1.10 to T1.12
    const BlockA block;
    for (const auto& [point, worst, norm] : {std::tuple(Vec3(300, 200, 100), Vec3(0.25, 0.25, 0.30), 0.403113),
                                             std::tuple(Vec3(0, 0, 0), Vec3(0.25, 0.25, 0.20), 0.377492)}) {
        Vec3 sum = Vec3::Zero(), square = Vec3::Zero();
        double worst_norm = 0;
        for (std::size_t i = 0; i < 6; ++i) {
            const Vec3 u = moves(block.shift(i, 1), point);
            sum += 0.1 * u.cwiseAbs();
            square += (0.05 * u).cwiseAbs2();
        }
        for (unsigned signs = 0; signs < 64; ++signs) {
            Vec3 u = Vec3::Zero();
            for (std::size_t i = 0; i < 6; ++i) u += moves(block.shift(i, (signs >> i & 1) ? 0.1 : -0.1), point);
            worst_norm = std::max(worst_norm, u.norm());
        }
        EXPECT_LT((sum - worst).norm(), 1e-9);
        EXPECT_NEAR(worst_norm, norm, 5e-7);
        if (point.x() > 0) {
            EXPECT_LT((square.cwiseSqrt() - Vec3(0.063738, 0.070711, 0.093541)).norm(), 1e-6);
            EXPECT_NEAR(std::sqrt(square.sum()), 0.133463, 5e-7);
        }
    }
}

/// The one free motion as (movement of the origin, turn) with a turn of 1.
Row free_screw(const Location& found) {
    EXPECT_EQ(found.free.cols(), 1);
    Row q = found.free.col(0);
    q.head<3>() -= Vec3(q.tail<3>()).cross(found.about_T);
    return q / q.tail<3>().norm() * (q.tail<3>().sum() < 0 ? -1 : 1);
}

TEST(Locating, ThreeSupportsInLineLeaveARock) {  // T1.13
    BlockA block;
    block.points[2] = {150, 50, 0};
    const Location found = locate(block.points, block.normals);
    EXPECT_EQ(found.rank, 5);
    expect_row(free_screw(found), {0, 50, -50, 1, 0, 0});
    const auto motions = free_motions(found);
    ASSERT_EQ(motions.size(), 1u);
    EXPECT_EQ(english().render(motions[0]), "rock about a line running left–right, 50 mm beyond A1 and 50 mm up");
}

TEST(Locating, TwoStopsOneAboveTheOtherLeaveASpin) {  // T1.14
    BlockA block;
    block.points[3] = {150, 0, 30};
    block.points[4] = {150, 0, 70};
    const Location found = locate(block.points, block.normals);
    EXPECT_EQ(found.rank, 5);
    expect_row(free_screw(found), {100, -150, 0, 0, 0, 1});
    const shop::Table table = table50();
    const auto motions = free_motions(found, &table);
    ASSERT_EQ(motions.size(), 1u);
    // x = 150, y = 100: the fourth hole of the third row.
    EXPECT_EQ(english().render(motions[0]), "turn about an upright line near C4");
}

TEST(Locating, AStopOnAMitreMovesATubeByRootTwo) {  // T1.16 to T1.18, planar: rows x, y and turn
    const double s = std::sqrt(0.5);
    const std::vector<Vec3> points{{100, 0, 0}, {500, 0, 0}, {25, 25, 0}}, normals{{0, 1, 0}, {0, 1, 0}, {s, -s, 0}};
    Eigen::Matrix3d g;
    for (std::size_t i = 0; i < 3; ++i) {
        Contact contact;
        contact.point_T = points[i];
        contact.normal_T = normals[i];
        const Row r = rows(contact)[0];
        g.row(static_cast<Eigen::Index>(i)) << r[0], r[1], r[5];
    }
    EXPECT_NEAR(std::abs(g.determinant()), 282.8427, 5e-5);
    const Vec3 third = g.inverse() * Vec3(0, 0, 0.1);
    EXPECT_LT((third - Vec3(0.1 * std::sqrt(2.0), 0, 0)).norm(), 1e-9);
    const Vec3 first = g.inverse() * Vec3(0.1, 0, 0);
    EXPECT_LT((first - Vec3(0.1125, 0.125, -0.00025)).norm(), 1e-9);
    const Vec3 second = g.inverse() * Vec3(0, 0.1, 0);
    EXPECT_LT((second - Vec3(-0.0125, -0.025, 0.00025)).norm(), 1e-9);
}

TEST(Locating, NothingTouchingLeavesSixMotions) {
    const Location found = locate({}, {});
    EXPECT_EQ(found.rank, 0);
    EXPECT_EQ(free_motions(found).size(), 6u);
}

TEST(Locating, SupportsAloneLeaveTwoSlidesAndATurn) {
    const Location found = locate({{0, 0, 0}, {100, 0, 0}, {0, 100, 0}}, {3, Vec3::UnitZ()});
    std::vector<std::string> words;
    for (const auto& text : free_motions(found)) words.push_back(english().render(text));
    EXPECT_THAT(words,
                testing::ElementsAre("slide left–right", "slide towards you and away", "turn flat on the table"));
}

TEST(Locating, ARoundBarInAVKeepsItsSlideAndItsTurn) {
    // Four line contacts of a bar along x in a V: nothing stops it along and about its own axis.
    const double s = std::sqrt(0.5);
    std::vector<Vec3> points, normals;
    for (const double x : {0.0, 400.0}) {
        for (const double side : {1.0, -1.0}) {
            points.push_back({x, -side * 20 * s, 100 - 20 * s});
            normals.push_back({0, side * s, s});
        }
    }
    std::vector<std::string> words;
    for (const auto& text : free_motions(locate(points, normals))) words.push_back(english().render(text));
    EXPECT_THAT(words, testing::ElementsAre("slide left–right",
                                            "rock about a line running left–right, 0 mm beyond A1 and 100 mm up"));
}

TEST(Locating, FreeMotionsSatisfyEveryContactInSkewSetUps) {
    // Identity: each free motion leaves n . u(r) = 0 at every contact.
    const Pose X = Pose::move(700, 300, 90) * Pose::turn_z(base::Angle::deg(37)) * Pose::turn_x(base::Angle::deg(20));
    BlockA block;
    block.points.resize(4);
    block.normals.resize(4);
    for (auto& p : block.points) p = X * p;
    for (auto& n : block.normals) n = X.turn(n);
    const Location found = locate(block.points, block.normals);
    EXPECT_EQ(found.rank, 4);
    ASSERT_EQ(found.free.cols(), 2);
    for (Eigen::Index c = 0; c < 2; ++c) {
        for (std::size_t i = 0; i < 4; ++i) {
            const Vec3 u =
                found.free.col(c).head<3>() + Vec3(found.free.col(c).tail<3>()).cross(block.points[i] - found.about_T);
            EXPECT_NEAR(block.normals[i].dot(u), 0, 1e-12);
        }
    }
    EXPECT_EQ(free_motions(found).size(), 2u);
}

TEST(Locating, ABarOnThreeRestsTwoStopsAndAnEndStopCannotMove) {
    const Report report = check(located_bar());
    EXPECT_EQ(failures(report), "");
    const auto held = of_rule(report, "locating.piece", Verdict::pass);
    ASSERT_EQ(held.size(), 1u);
    EXPECT_EQ(held[0]->measured, 6);
    EXPECT_THAT(said(*held[0]), HasSubstr("block 6"));
    EXPECT_EQ(report.faces, 6);
    EXPECT_EQ(report.exact_faces, 6);
}

TEST(Locating, WithoutItsEndStopTheBarSlides) {
    Job job = located_bar();
    job.stages[0].placements.pop_back();
    const Report report = check(job);
    const auto loose = of_rule(report, "locating.free", Verdict::fail);
    ASSERT_EQ(loose.size(), 1u);
    EXPECT_EQ(loose[0]->measured, 5);
    EXPECT_EQ(said(*loose[0]), "P1 can still slide left–right: set a stop or a rest against it.");
}

TEST(Locating, StopsOnBothSidesHoldTwice) {
    Job job = located_bar();
    // Against the south face at y 225 from row 200.
    put(job, stop(), {8, 4}, north);
    const Report report = check(job);
    const auto twice = of_rule(report, "locating.held_twice", Verdict::fail);
    ASSERT_EQ(twice.size(), 1u);
    EXPECT_EQ(said(*twice[0]),
              "P1 is held twice by block 4, block 5 and block 7: a piece a little over size will not go in.");
    EXPECT_EQ(twice[0]->measured, 3);
}

TEST(Locating, APullBackStopOnTheFarSideDoesNotHoldTwice) {
    Job job = located_bar();
    shop::Component pull = stop();
    pull.id = "pull";
    pull.family = shop::Family::pull_back_stop;
    put(job, pull, {8, 4}, north);
    EXPECT_EQ(failures(check(job)), "");
}

TEST(Locating, AStopOneHoleOffMissesByTheHole) {
    Job job = located_bar();
    job.stages[0].placements.back().seat.hole.col -= 1;
    const Report report = check(job);
    EXPECT_EQ(of_rule(report, "locating.free", Verdict::fail).size(), 1u);
    const auto lost = of_rule(report, "locating.touches_nothing", Verdict::fail);
    ASSERT_EQ(lost.size(), 1u);
    EXPECT_EQ(lost[0]->subjects[0], Subject(PlacementId{106}));
    EXPECT_EQ(said(*lost[0]), "block 6 touches no piece: move it against one or take it off the table.");
}

TEST(Locating, AStopThatMissesByAFewMillimetresSaysHowMany) {
    Job job = located_bar();
    shop::Component shy = *job.components.at("end stop");
    shy.faces[0].point.x() -= 4;
    shy.body = {box({-70, -20, 0}, {46, 20, 100})};
    job.components["end stop"] = std::make_shared<const shop::Component>(shy);
    const Report report = check(job);
    const auto lost = of_rule(report, "locating.touches_nothing", Verdict::fail);
    ASSERT_EQ(lost.size(), 1u);
    EXPECT_NEAR(*lost[0]->measured, 4, 1e-9);
    EXPECT_THAT(said(*lost[0]), HasSubstr("block 6 misses P1 by 4 mm"));
    EXPECT_EQ(report.faces, 6);
    EXPECT_EQ(report.exact_faces, 5);
}

TEST(Locating, ThreeStopsOnOneFlatAreOneTooManyAndFourRestsAreNot) {
    Job job = located_bar();
    put(job, stop(), {8, 6}, south);
    put(job, rest(), {6, 5});
    const Report report = check(job);
    EXPECT_EQ(failures(report), "");
    EXPECT_EQ(of_rule(report, "locating.one_flat", Verdict::warn).size(), 1u);
    ASSERT_EQ(of_rule(report, "locating.supports", Verdict::pass).size(), 1u);
    EXPECT_THAT(said(*of_rule(report, "locating.supports", Verdict::pass)[0]), HasSubstr("shim if it rocks"));
}

/// P1 located; P2 butts against its south face between it and nothing, on its own rests, with a stop on its east side.
Job bar_with_butting_piece() {
    Job job = located_bar();
    auto model = std::make_shared<weldment::Weldment>(*job.weldments[0].model);
    model->pieces.push_back(bar(2, "P2", {375, 75, 50}, {425, 225, 100}));
    job.weldments[0].model = model;
    job.stages[0].pieces.push_back(PieceId{2});
    job.stages[0].held_by[PieceId{2}] = HeldBy::nested;
    put(job, rest(), {8, 2});
    put(job, rest(), {8, 3});
    put(job, stop(), {9, 2}, west);
    return job;
}

TEST(Locating, APieceThatButtsAnEarlierOneIsLocatedByIt) {
    const Report report = check(bar_with_butting_piece());
    EXPECT_EQ(failures(report), "");
    const auto held = of_rule(report, "locating.piece", Verdict::pass);
    ASSERT_EQ(held.size(), 2u);
    EXPECT_THAT(said(*held[1]), HasSubstr("and P1."));
}

TEST(Locating, AStopAgainstAPieceThatButtsALocatedOneHoldsTwice) {
    Job job = bar_with_butting_piece();
    // P1 rests against stops on its north side, so P2 between it and a stop at y 75 has no way to give.
    put(job, stop(), {8, 1}, north);
    const auto twice = of_rule(check(job), "locating.held_twice", Verdict::fail);
    ASSERT_EQ(twice.size(), 1u);
    EXPECT_THAT(said(*twice[0]), HasSubstr("P2 is held twice by block 10 and P1"));
}

TEST(Locating, ANestedPieceWithoutAnEarlierOneIsSaid) {
    Job job = located_bar();
    job.stages[0].held_by[PieceId{1}] = HeldBy::nested;
    EXPECT_EQ(of_rule(check(job), "locating.nested", Verdict::fail).size(), 1u);
}

TEST(Locating, APieceByHandIsNotAskedToBeLocated) {
    Job job = job_with({bar(1, "P1", {100, 225, 50}, {700, 275, 100})});
    EXPECT_EQ(of_rule(check(job), "locating.free", Verdict::fail).size(), 1u);
    job.stages[0].held_by[PieceId{1}] = HeldBy::by_hand;
    put(job, rest(), {4, 5});
    const Report report = check(job);
    EXPECT_EQ(of_rule(report, "locating.free", Verdict::fail).size(), 0u);
    EXPECT_EQ(of_rule(report, "locating.by_hand", Verdict::pass).size(), 1u);
}

}  // namespace
}  // namespace setwright::check
