#include "core/check/clearance.h"

#include <gtest/gtest.h>

#include "tests/core/check/example.h"

namespace setwright::check {
namespace {

/// A post of 30 × 30 × 100 without any locating face.
shop::Component post(bool swinging = false) {
    shop::Component c = bolted("clamp", shop::Family::pusher);
    c.body = {box({-15, -15, 0}, {15, 15, 20}), box({-15, -15, 20}, {15, 15, 100}, swinging)};
    return c;
}

TEST(Clearance, ContactsAreNoCollisionAndTheBarIsClear) {
    const Report report = check(located_bar());
    EXPECT_EQ(failures(report), "");
    EXPECT_EQ(of_rule(report, "clearance.collision", Verdict::pass)[0]->measured, 6);
    EXPECT_EQ(of_rule(report, "clearance.table", Verdict::pass)[0]->measured, 50);
}

TEST(Clearance, AComponentTwoFromAPieceIsTooNear) {
    // Hole at x 800, its post reaches 785; the bar moved to end at 783.
    Job job = located_bar();
    put(job, post(), {16, 5});
    EXPECT_EQ(failures(check(job)), "");
    auto model = std::make_shared<weldment::Weldment>(*job.weldments[0].model);
    model->pieces[0] = bar(1, "P1", {150, 225, 50}, {783, 275, 100});
    job.weldments[0].model = model;
    const auto found = of_rule(check(job), "clearance.piece", Verdict::fail);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_NEAR(*found[0]->measured, 2, 1e-9);
    EXPECT_EQ(found[0]->limit, 3);
    EXPECT_EQ(said(*found[0]), "block 7 is only 2 mm from P1, 3 mm wanted: move it, or choose a smaller one.");
    job.limits.clearance_piece_mm = 2;
    EXPECT_EQ(failures(check(job)), "");
}

TEST(Clearance, AMovingArmNeedsMoreRoom) {
    // The arm stands 785 - 777 = 8 off: enough for a fixed part, not for one that swings.
    for (const bool swinging : {false, true}) {
        Job job = located_bar();
        auto model = std::make_shared<weldment::Weldment>(*job.weldments[0].model);
        model->pieces[0] = bar(1, "P1", {150, 225, 50}, {777, 275, 100});
        job.weldments[0].model = model;
        put(job, post(swinging), {16, 5});
        const auto found = of_rule(check(job), "clearance.moving", Verdict::fail);
        ASSERT_EQ(found.size(), swinging ? 1u : 0u);
        if (swinging) {
            EXPECT_NEAR(*found[0]->measured, 8, 1e-9);
        }
    }
}

TEST(Clearance, AComponentThroughAPieceCollides) {
    Job job = located_bar();
    put(job, post(), {10, 5});
    const auto found = of_rule(check(job), "clearance.collision", Verdict::fail);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0]->subjects[0], Subject(PlacementId{107}));
}

TEST(Clearance, AContactDoesNotHideWhatElseRunsIntoThePiece) {
    // The stop still touches with its face, but an arm of it reaches over and 5 into the bar.
    Job job = located_bar();
    shop::Component hooked = stop();
    hooked.body.push_back(box({25, -10, 95}, {45, 10, 110}));
    job.components["stop"] = std::make_shared<const shop::Component>(hooked);
    const Report report = check(job);
    EXPECT_EQ(of_rule(report, "clearance.collision", Verdict::fail).size(), 2u);
    EXPECT_EQ(of_rule(report, "locating.piece", Verdict::pass).size(), 1u);
}

TEST(Clearance, ARoundStopOnItsLineIsNoCollision) {
    // The mesh of a post of 30 stands up to 0.13 outside the true circle.
    Job job = job_with({bar(1, "P1", {150, 225, 50}, {750, 285, 100})});
    put(job, round_stop(), {8, 6});
    const Report report = check(job);
    EXPECT_TRUE(of_rule(report, "clearance.collision", Verdict::fail).empty());
    EXPECT_EQ(report.stages[0].contacts.size(), 1u);
}

TEST(Clearance, JawsOnBothSidesOfAPieceDoNotCollideByTouching) {
    shop::Component jaws = bolted("clamp", shop::Family::side_clamp);
    jaws.body = {box({-25, -10, 0}, {75, 10, 40}), box({-35, -10, 0}, {-25, 10, 90}), box({25, -10, 0}, {35, 10, 90})};
    jaws.faces = {flat({-25, 0, 0}, Vec3::UnitX(), Vec3::UnitZ(), 60, 90, 20),
                  flat({25, 0, 0}, -Vec3::UnitX(), Vec3::UnitZ(), 60, 90, 20)};
    for (auto& face : jaws.faces) face.locates = false;
    jaws.faces[1].id = "other";
    Job job = job_with({bar(1, "P1", {375, 100, 50}, {425, 400, 100})});
    put(job, jaws, {8, 5});
    EXPECT_TRUE(of_rule(check(job), "clearance.collision", Verdict::fail).empty());
    // A bar between the jaws that the piece runs into is one.
    jaws.body.push_back(box({-5, -10, 40}, {5, 10, 55}));
    job.components["clamp"] = std::make_shared<const shop::Component>(jaws);
    EXPECT_EQ(of_rule(check(job), "clearance.collision", Verdict::fail).size(), 1u);
}

TEST(Clearance, TwoComponentsInOnePlaceAreInEachOthersWay) {
    Job job = located_bar();
    shop::Component wide = post();
    wide.body = {box({-30, -30, 0}, {30, 30, 20})};
    put(job, wide, {30, 10});
    put(job, wide, {31, 10});
    const auto found = of_rule(check(job), "clearance.component", Verdict::fail);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0]->subjects, (std::vector<Subject>{PlacementId{107}, PlacementId{108}}));
}

TEST(Clearance, NeighboursThatJustTouchAreNot) {
    Job job = located_bar();
    shop::Component square = post();
    square.body = {box({-25, -25, 0}, {25, 25, 20})};
    put(job, square, {30, 10});
    put(job, square, {31, 10});
    EXPECT_EQ(failures(check(job)), "");
}

TEST(Clearance, APieceBelowTheTableTopIsSaidAndOneBeyondTheEdgeIsNot) {
    const Report below = check(job_with({bar(1, "P1", {150, 225, -20}, {750, 275, 30})}));
    const auto found = of_rule(below, "clearance.table", Verdict::fail);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_NEAR(*found[0]->measured, -20, 1e-9);
    // The plate ends at x 2375.
    EXPECT_TRUE(
        of_rule(check(job_with({bar(1, "P1", {2400, 225, -20}, {2500, 275, 30})})), "clearance.table", Verdict::fail)
            .empty());
    EXPECT_TRUE(
        of_rule(check(job_with({bar(1, "P1", {150, 225, 0}, {750, 275, 30})})), "clearance.table", Verdict::fail)
            .empty());
}

TEST(Clearance, ABlockThatReachesIntoTheTableIsSaidAndOneThatStandsOnItOrBesideItIsNot) {
    shop::Component block = post();
    const auto in_table = [&](const Vec3& min, const Vec3& max, shop::Hole hole) {
        block.body = {box(min, max)};
        Job job = located_bar();
        put(job, block, hole);
        return of_rule(check(job), "clearance.table", Verdict::fail);
    };
    EXPECT_TRUE(in_table({-15, -15, 0}, {15, 15, 100}, {30, 10}).empty());
    const auto found = in_table({-15, -15, -5}, {15, 15, 100}, {30, 10});
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0]->subjects, std::vector<Subject>{PlacementId{107}});
    EXPECT_NEAR(*found[0]->measured, -5, 1e-9);
    EXPECT_EQ(said(*found[0]), "block 7 goes into the table top: set it higher, or further out over the edge.");
    // The plate ends at x 2375, 25 beyond the last hole: an arm may hang down there, and touch its edge.
    EXPECT_TRUE(in_table({25, -15, -60}, {60, 15, 100}, {47, 10}).empty());
    EXPECT_EQ(in_table({24, -15, -60}, {60, 15, 100}, {47, 10}).size(), 1u);
}

TEST(Clearance, ABlockWithoutAPlaceLeavesNoRulePassed) {
    Job job = located_bar();
    job.stages[0].placements[3].seat.hole = {99, 0};
    const Report report = check(job);
    for (const char* rule :
         {"clearance.piece", "clearance.moving", "clearance.component", "clearance.table", "clearance.collision"}) {
        EXPECT_TRUE(of_rule(report, rule, Verdict::pass).empty()) << rule;
        const auto found = of_rule(report, rule, Verdict::not_run);
        ASSERT_EQ(found.size(), 1u) << rule;
        EXPECT_EQ(found[0]->subjects, std::vector<Subject>{PlacementId{104}});
        EXPECT_EQ(said(*found[0]),
                  "block 4 cannot stand as planned, so not every distance was checked: give it a place first.");
    }
}

TEST(Clearance, WhatStandsOnAPieceOrABlockIsNotNoughtApartFromIt) {
    Job job = located_bar();
    shop::Component carrier = bolted("carrier", shop::Family::angle_plate);
    carrier.body = {box({-50, -50, 0}, {50, 50, 200})};
    shop::GridFace top;
    top.id = "top";
    top.origin = Vec3(-25, 0, 200);
    top.right = Vec3::UnitX();
    top.up = Vec3::UnitY();
    top.pitch_right_mm = top.pitch_up_mm = 50;
    top.cols = 2;
    top.rows = 1;
    top.hole_mm = 16;
    carrier.grid_faces = {top};
    const auto host = put(job, carrier, {30, 10});
    const auto guest = put(job, post(), {0, 0});
    setup::Seat& seat = job.stages[0].placements.back().seat;
    seat.host.kind = Host::Kind::placement;
    seat.host.placement = host;
    seat.host.face = "top";
    const Report report = check(job);
    EXPECT_TRUE(of_rule(report, "clearance.component", Verdict::fail).empty());
    const auto passed = of_rule(report, "clearance.component", Verdict::pass);
    ASSERT_EQ(passed.size(), 1u);
    EXPECT_NE(passed[0]->measured, 0);
    int by_design = 0;
    for (const Clearance& one : report.stages[0].clearance.nearest) {
        by_design += one.by_design && one.placement == guest;
        if (one.placement == guest && one.other == Subject(host)) {
            EXPECT_TRUE(one.by_design);
        }
    }
    EXPECT_EQ(by_design, 1);
    // What sinks into its host is still in its way.
    shop::Component deep = post();
    deep.body[0].min.z() = -10;
    job.components["clamp"] = std::make_shared<const shop::Component>(deep);
    EXPECT_EQ(of_rule(check(job), "clearance.component", Verdict::fail).size(), 1u);
}

TEST(Clearance, WhatCouldNotBeWorkedOutIsNotSaidToCollide) {
    // Jaws on both sides are judged by shared volume; a piece without an exact body has none.
    shop::Component jaws = bolted("clamp", shop::Family::side_clamp);
    jaws.body = {box({-35, -10, 0}, {-25, 10, 90}), box({25, -10, 0}, {35, 10, 90})};
    jaws.faces = {flat({-25, 0, 0}, Vec3::UnitX(), Vec3::UnitZ(), 60, 90, 20),
                  flat({25, 0, 0}, -Vec3::UnitX(), Vec3::UnitZ(), 60, 90, 20)};
    jaws.faces[1].id = "other";
    weldment::Piece piece = bar(1, "P1", {375, 100, 50}, {425, 400, 100});
    piece.brep = {};
    Job job = job_with({piece});
    put(job, jaws, {8, 5});
    const Report report = check(job);
    EXPECT_TRUE(of_rule(report, "clearance.collision", Verdict::fail).empty());
    EXPECT_TRUE(of_rule(report, "clearance.collision", Verdict::pass).empty());
    const auto found = of_rule(report, "clearance.collision", Verdict::not_run);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(said(*found[0]), "Whether block 1 runs into P1 could not be worked out: look at the two from the side.");
}

TEST(Clearance, DistancesAreListedByPlacementAndTheSameEachTime) {
    const Job job = located_bar();
    const auto once = check(job).stages[0].clearance.nearest;
    const auto again = check(job).stages[0].clearance.nearest;
    ASSERT_EQ(once.size(), again.size());
    for (std::size_t i = 0; i < once.size(); ++i) {
        EXPECT_EQ(once[i].other, again[i].other);
        EXPECT_EQ(once[i].distance_mm, again[i].distance_mm);
        if (i > 0) {
            EXPECT_LE(once[i - 1].placement, once[i].placement);
        }
        EXPECT_LE(once[i].distance_mm, base::limits::clearance_horizon_mm);
    }
    EXPECT_GE(once.size(), 6u);
}

TEST(Clearance, ACancelledCheckIsNeverAPass) {
    base::Progress job;
    job.cancel();
    const Report report = check(located_bar(), job);
    EXPECT_TRUE(of_rule(report, "clearance.piece", Verdict::pass).empty());
    EXPECT_EQ(of_rule(report, "clearance.piece", Verdict::cancelled).size(), 1u);
    EXPECT_EQ(of_rule(report, "locating.piece", Verdict::cancelled).size(), 1u);
}

}  // namespace
}  // namespace setwright::check
