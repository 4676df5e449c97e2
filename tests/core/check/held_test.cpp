#include <gtest/gtest.h>

#include "tests/core/check/example.h"

namespace setwright::check {
namespace {

using testing::HasSubstr;

/// P2, 50 × 50 × 200 along y, butts P1's south face in the middle; on two rests, a stop against its west face.
Job bar_with_branch() {
    Job job = located_bar();
    std::vector<weldment::Piece> pieces = job.weldments[0].model->pieces;
    pieces.push_back(bar(2, "P2", {425, 25, 50}, {475, 225, 100}));
    auto model = std::make_shared<weldment::Weldment>();
    model->pieces = std::move(pieces);
    job.weldments[0].model = std::move(model);
    job.stages[0].pieces.push_back(PieceId{2});
    put(job, rest(), {9, 1});
    put(job, rest(), {9, 3});
    put(job, stop(), {8, 2});
    return job;
}

/// A pad at (100, 0), 120 up, that comes down by 40.
shop::Component down_clamp() {
    shop::Component c = bolted("clamp", shop::Family::down_clamp);
    c.mount.turns_freely = true;
    c.body = {box({-10, -10, 0}, {10, 10, 200}), box({-10, -10, 180}, {110, 10, 200}, true)};
    shop::LocatingFace pad = flat({100, 0, 120}, -Vec3::UnitZ(), Vec3::UnitX(), -10, 10, 20);
    pad.id = "pad";
    pad.locates = false;
    c.faces = {pad};
    c.clamp = shop::Clamp{1000, 100, 0, 40};
    return c;
}

TEST(Held, APieceIsLocatedByAnEarlierOneThatCannotMove) {
    EXPECT_EQ(failures(check(bar_with_branch())), "");
}

TEST(Held, APieceIsNotLocatedByOneThatIsLooseItself) {
    Job job = bar_with_branch();
    // Without its end stop P1 slides along, and P2 with it no more than before; without its stops it swings away.
    std::erase_if(job.stages[0].placements, [](const setup::Placement& p) { return p.no == 4 || p.no == 5; });
    const Report report = check(job);
    const auto free = of_rule(report, "locating.free", Verdict::fail);
    ASSERT_EQ(free.size(), 2u);
    EXPECT_EQ(english().render(free[1]->cure), "Hold P1 first, or load P2 after.");
}

TEST(Held, APieceSetByHandInTheAirIsNoSetUp) {
    Job job = bar_with_branch();
    job.stages[0].held_by[PieceId{1}] = HeldBy::by_hand;
    job.stages[0].held_by[PieceId{2}] = HeldBy::by_hand;
    job.stages[0].placements.clear();
    job.stages[0].pieces = {PieceId{2}};
    const auto found = of_rule(check(job), "locating.by_hand", Verdict::fail);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_THAT(said(*found[0]), HasSubstr("hang in the air"));
}

TEST(Held, APieceAgainstOneSetByHandAsksForAMeasure) {
    Job job = bar_with_branch();
    job.stages[0].held_by[PieceId{1}] = HeldBy::by_hand;
    job.stages[0].order.resize(2);
    for (std::uint32_t i = 0; i < 2; ++i) {
        job.stages[0].order[i].kind = setup::StepKind::load;
        job.stages[0].order[i].pieces = {PieceId{i + 1}};
    }
    const auto found = of_rule(check(job), "locating.on_by_hand", Verdict::warn);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(said(*found[0]), "P2 sits against P1, which is set by hand to marks: measure it before tacking.");
}

TEST(Held, AClampOverAPiecePresses) {
    Job job = located_bar();
    // The hole 100 south of the bar's middle: the pad is over y 250, 20 above the bar.
    put(job, down_clamp(), {8, 3}, north);
    EXPECT_EQ(of_rule(check(job), "holding.clamp", Verdict::pass).size(), 1u);
}

TEST(Held, AClampOverTheBareTableOrOutOfItsStrokePressesNothing) {
    for (const bool beside : {true, false}) {
        Job job = located_bar();
        shop::Component clamp = down_clamp();
        if (!beside) clamp.clamp->stroke_mm = 19;
        put(job, clamp, beside ? shop::Hole{20, 3} : shop::Hole{8, 3}, north);
        const auto found = of_rule(check(job), "holding.clamp", Verdict::fail);
        ASSERT_EQ(found.size(), 1u) << beside;
        EXPECT_THAT(said(*found[0]), HasSubstr("block 7 presses on nothing"));
    }
}

TEST(Held, APieceInNoStageIsNotPassedOver) {
    Job job = bar_with_branch();
    job.stages[0].pieces = {PieceId{1}};
    const auto found = of_rule(check(job), "locating.loaded", Verdict::fail);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_THAT(said(*found[0]), HasSubstr("P2 is in no stage"));
    job.weldments[0].piece_edits[PieceId{2}].left_out = true;
    EXPECT_TRUE(of_rule(check(job), "locating.loaded", Verdict::fail).empty()) << "left out on purpose";
}

TEST(Held, AJobWithoutStagesOrPiecesDoesNotPass) {
    Job job = located_bar();
    job.stages[0].pieces.clear();
    job.stages[0].placements.clear();
    EXPECT_TRUE(check(job).failed());
    job.stages.clear();
    EXPECT_TRUE(check(job).failed());
}

TEST(Held, ADrawnPieceWithoutShapeIsNotPassedOver) {
    Job job = located_bar();
    job.weldments[0].drawn.emplace_back();
    job.weldments[0].drawn[0].id = PieceId{9};
    job.stages[0].pieces.push_back(PieceId{9});
    EXPECT_EQ(of_rule(check(job), "locating.loaded", Verdict::fail).size(), 1u);
}

TEST(Held, TheSecondFaceOfABlockThatStandsOffIsTold) {
    Job job = located_bar();
    shop::Component two = stop();
    two.id = "two faces";
    two.faces.push_back(flat({23, 0, 0}, Vec3::UnitX(), Vec3::UnitZ(), 60, 95, 40));
    two.faces[1].id = "short";
    job.components[two.id] = std::make_shared<const shop::Component>(two);
    job.shelf.count[two.id] = 2;
    job.stages[0].placements[3].component = two.id;
    const auto found = of_rule(check(job), "locating.face_off", Verdict::warn);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_NEAR(*found[0]->measured, 2, 1e-9);
}

TEST(Held, AnAcceptedFaultStaysAFaultInAnotherStage) {
    Job job = located_bar();
    job.stages[0].placements.pop_back();
    ASSERT_TRUE(check(job).failed());
    job.accepted.push_back({"locating.free", {"stage 1000", "piece 1"}, 5, "measured by hand"});
    EXPECT_FALSE(check(job).failed());
    job.accepted[0].subjects[0] = "stage 7";
    EXPECT_TRUE(check(job).failed());
}

}  // namespace
}  // namespace setwright::check
