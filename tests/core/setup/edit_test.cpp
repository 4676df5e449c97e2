#include "core/setup/edit.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/setup/place.h"
#include "tests/core/setup/example.h"

namespace setwright::setup {
namespace {

using base::Angle;
using space::Pose;
using space::Vec3;

constexpr double exact_mm = 1e-9;

/// Corners of all pieces present, in T.
space::Aabb box_T(const Job& setup, const Stage& stage) {
    space::Aabb box;
    for (const weldment::Piece& piece : setup.weldments[0].model->pieces)
        for (const Vec3& point : piece.solid->mesh.points) box.add(stage.lay.X_TM * (piece.X_MP * point));
    return box;
}

Seat on_hole(int col, int row) {
    Seat seat;
    seat.hole = {col, row};
    return seat;
}

struct Two {
    Job setup;
    StageId stage;
    PlacementId host, guest;
};

/// A block on the table and another on its face.
Two host_and_guest() {
    Job setup = example_job();
    const StageId stage = setup.stages[0].id;
    auto host = place(setup, stage, example_component(), on_hole(20, 10));
    EXPECT_TRUE(host.ok()) << (host ? "" : host.error().text.id);
    // One pin on the face's own finer grid.
    auto pad = std::make_shared<shop::Component>(*example_component("pad"));
    pad->mount.second.reset();
    pad->mount.turns_freely = true;
    pad->mount.pitch_mm = 25;
    pad->mount.footprint = {{-10, -10}, {10, -10}, {10, 10}, {-10, 10}};
    Seat seat = on_hole(0, 1);
    seat.host = {Host::Kind::placement, host->id, "front", {}, {}, shop::TableSide::south};
    auto guest = place(host->setup, stage, pad, seat);
    EXPECT_TRUE(guest.ok()) << (guest ? "" : guest.error().text.id);
    return {guest->setup, stage, host->id, guest->id};
}

TEST(Edit, ANewJobHasOneStageWithAllPiecesAndIdsAboveTheModels) {
    const Job setup = example_job();
    ASSERT_EQ(setup.stages.size(), 1u);
    EXPECT_EQ(setup.stages[0].name, "stage 1");
    EXPECT_THAT(setup.stages[0].pieces, testing::ElementsAre(PieceId{1}, PieceId{2}));
    EXPECT_EQ(setup.stages[0].held(PieceId{1}), HeldBy::set_up);
    EXPECT_EQ(setup.stages[0].lay.side_down, "-Z");
    EXPECT_EQ(setup.weldments[0].id, WeldmentId{3});
    EXPECT_EQ(setup.stages[0].id, StageId{4});
    EXPECT_EQ(setup.last_id, 4u);
}

TEST(Edit, LayingMinusYDownSendsXToXAndZToMinusY) {
    // As a fixture builder lays a frame whose flat plane is Y = 0: X_T = X + a, Y_T = b − Z, Z_T = Y + c.
    const Job setup = example_job();
    const auto laid = lay(setup, setup.stages[0].id, "-Y", 0, Vec3(75, 75, 75));
    ASSERT_TRUE(laid.ok());
    const Pose& X_TM = laid->stages[0].lay.X_TM;
    for (const Vec3& p : {Vec3(0, 0, 0), Vec3(1, 2, 3), Vec3(450, 50, 800)})
        EXPECT_LT((X_TM * p - Vec3(p.x() + 75, 875 - p.z(), p.y() + 75)).norm(), exact_mm);
    EXPECT_EQ(laid->stages[0].lay.side_down, "-Y");
    EXPECT_EQ(setup.stages[0].lay.side_down, "-Z") << "the old value stays";
}

TEST(Edit, TheNamedSideLooksDownAndTheCornerIsWhereItWasPut) {
    const Job setup = example_job();
    const std::map<std::string, Vec3> sides = {{"-X", -Vec3::UnitX()}, {"+X", Vec3::UnitX()},  {"-Y", -Vec3::UnitY()},
                                               {"+Y", Vec3::UnitY()},  {"-Z", -Vec3::UnitZ()}, {"+Z", Vec3::UnitZ()}};
    for (const auto& [side, down_M] : sides)
        for (const double yaw : {0.0, 90.0, -37.5, 200.0}) {
            const auto laid = lay(setup, setup.stages[0].id, side, yaw, Vec3(100, 200, 50));
            ASSERT_TRUE(laid.ok());
            const Lay& as_laid = laid->stages[0].lay;
            EXPECT_LT((as_laid.X_TM.turn(down_M) + Vec3::UnitZ()).norm(), exact_mm) << side;
            EXPECT_LT((box_T(*laid, laid->stages[0]).min - Vec3(100, 200, 50)).norm(), exact_mm) << side << yaw;
            // Yaw turns what the same side down gives unturned.
            const auto straight = lay(setup, setup.stages[0].id, side, 0, Vec3(100, 200, 50));
            const Pose turn = Pose::turn_z(Angle::deg(yaw));
            EXPECT_LT((as_laid.X_TM.rotation() - turn.rotation() * straight->stages[0].lay.X_TM.rotation()).norm(),
                      exact_mm);
        }
}

TEST(Edit, AMeasuredPoseIsReadBackAsSideAndYaw) {
    const Job setup = example_job();
    const StageId stage = setup.stages[0].id;
    const auto laid = lay(setup, stage, "+X", -37.5, Vec3(100, 200, 50));
    const auto exact = lay(setup, stage, laid->stages[0].lay.X_TM);
    ASSERT_TRUE(exact.ok());
    EXPECT_EQ(exact->stages[0].lay.side_down, "+X");
    EXPECT_NEAR(exact->stages[0].lay.yaw_deg, -37.5, 1e-6);
    EXPECT_EQ(exact->stages[0].lay.X_TM, laid->stages[0].lay.X_TM);
    const auto leaning = lay(setup, stage, Pose::turn_x(Angle::deg(20)));
    EXPECT_EQ(leaning->stages[0].lay.side_down, "");
}

TEST(Edit, ABoxUnderASkewTurnIsTight) {
    // A 10 × 10 post turned by 45° reaches 10·√2 across, and no box of its box: that would be 20.
    Job setup = example_job();
    auto model = std::make_shared<weldment::Weldment>();
    model->pieces = {bar(1, "a", {0, 0, 0}, {10, 10, 5})};
    model->pieces[0].X_MP = Pose::turn_z(Angle::deg(45));
    setup.weldments[0].model = model;
    const auto laid = lay(setup, setup.stages[0].id, "-Z", 45, Vec3(0, 0, 0));
    ASSERT_TRUE(laid.ok());
    // Turned by 90° in all, the post stands square on the axes again.
    EXPECT_NEAR(box_T(*laid, laid->stages[0]).max.x(), 10, exact_mm);
    EXPECT_LT(box_T(*laid, laid->stages[0]).min.norm(), exact_mm);
}

TEST(Edit, LeftOutPiecesAreNotLaid) {
    Job setup = example_job();
    setup.weldments[0].piece_edits[PieceId{1}].left_out = true;
    const auto laid = lay(setup, setup.stages[0].id, "-Z", 0, Vec3(0, 0, 0));
    ASSERT_TRUE(laid.ok());
    EXPECT_EQ(laid->stages[0].lay.X_TM.position(), Vec3(-50, 0, 0));
    setup.weldments[0].piece_edits[PieceId{2}].left_out = true;
    EXPECT_EQ(lay(setup, setup.stages[0].id, "-Z", 0, Vec3(0, 0, 0)).error().text.id, "edit.nothing_to_lay");
}

TEST(Edit, ALaterStageLaysWhatWasWeldedBefore) {
    const Job setup = example_job();
    const auto more = add_stage(setup, "upside down");
    ASSERT_TRUE(more.ok());
    const Stage& stage = more->stages[1];
    EXPECT_THAT(stage.earlier, testing::ElementsAre(setup.stages[0].id));
    const auto laid = lay(*more, stage.id, "+Z", 0, Vec3(0, 0, 0));
    ASSERT_TRUE(laid.ok());
    EXPECT_LT((laid->stages[1].lay.X_TM * Vec3(50, 50, 800) - Vec3(50, 0, 0)).norm(), exact_mm);
    EXPECT_EQ(add_stage(setup, "").error().text.id, "edit.stage_name_missing");
}

TEST(Edit, WrongSidesStagesAndNumbersAreRefused) {
    const Job setup = example_job();
    const StageId stage = setup.stages[0].id;
    EXPECT_EQ(lay(setup, stage, "down", 0, Vec3(0, 0, 0)).error().text.id, "edit.side_unknown");
    EXPECT_EQ(lay(setup, StageId{99}, "-Z", 0, Vec3(0, 0, 0)).error().text.id, "edit.stage_unknown");
    EXPECT_EQ(lay(setup, stage, "-Z", std::nan(""), Vec3(0, 0, 0)).error().text.id, "edit.lay_not_a_number");
    EXPECT_EQ(place(setup, StageId{99}, example_component(), on_hole(1, 1)).error().text.id, "edit.stage_unknown");
    EXPECT_EQ(move(setup, stage, PlacementId{99}, on_hole(1, 1)).error().text.id, "edit.placement_unknown");
    EXPECT_EQ(remove(setup, stage, PlacementId{99}).error().text.id, "edit.placement_unknown");
    EXPECT_EQ(hold(setup, stage, PieceId{99}, HeldBy::nested).error().text.id, "edit.piece_not_in_stage");
}

TEST(Edit, PlacingBringsTheDefinitionAlongAndTakesTheNextFreeNumber) {
    const Two two = host_and_guest();
    const Stage& stage = two.setup.stages[0];
    EXPECT_EQ(stage.find(two.host)->no, 1);
    EXPECT_EQ(stage.find(two.guest)->no, 2);
    EXPECT_TRUE(two.setup.components.contains("block"));
    EXPECT_TRUE(two.setup.components.contains("pad"));
    const auto third = place(two.setup, two.stage, example_component(), on_hole(30, 10));
    ASSERT_TRUE(third.ok());
    EXPECT_EQ(third->setup.stages[0].find(third->id)->no, 3);
    const auto fewer = remove(third->setup, two.stage, two.guest);
    ASSERT_TRUE(fewer.ok());
    EXPECT_FALSE(fewer->components.contains("pad")) << "no longer in use";
    const auto again = place(*fewer, two.stage, example_component(), on_hole(35, 10));
    ASSERT_TRUE(again.ok());
    EXPECT_EQ(again->setup.stages[0].find(again->id)->no, 2);
    EXPECT_NE(again->id, two.guest) << "ids are never given again";
}

TEST(Edit, TheJobsOwnDefinitionStays) {
    const Two two = host_and_guest();
    shop::Component heavier = *example_component();
    heavier.mass_kg = 99;
    const auto more = place(two.setup, two.stage, std::make_shared<const shop::Component>(heavier), on_hole(30, 10));
    ASSERT_TRUE(more.ok());
    EXPECT_EQ(more->setup.find_component("block")->mass_kg, example_component()->mass_kg);
}

TEST(Edit, ASeatThatIsNoneIsRefusedByTheSeatsOwnReason) {
    Job setup = example_job();
    setup.table.blocked = {{20, 10}};
    const StageId stage = setup.stages[0].id;
    for (const Seat& seat : {on_hole(20, 10), on_hole(500, 10), on_hole(-3, 0)}) {
        const auto placed = place(setup, stage, example_component(), seat);
        ASSERT_FALSE(placed.ok());
        EXPECT_TRUE(placed.error().text.id.starts_with("seat.")) << placed.error().text.id;
    }
}

TEST(Edit, GuestsComeAlongWhenTheirHostMoves) {
    const Two two = host_and_guest();
    const auto moved = move(two.setup, two.stage, two.host, on_hole(25, 12));
    ASSERT_TRUE(moved.ok());
    const auto pose_of = [&](const Job& setup, PlacementId id) {
        const Stage& stage = setup.stages[0];
        return pose(setup, stage, *stage.find(id))->X_TC.position();
    };
    EXPECT_LT((pose_of(*moved, two.guest) - pose_of(two.setup, two.guest) - Vec3(250, 100, 0)).norm(), exact_mm);
    EXPECT_EQ(moved->stages[0].find(two.guest)->seat, two.setup.stages[0].find(two.guest)->seat);
}

TEST(Edit, NothingStandsOnItself) {
    const Two two = host_and_guest();
    Seat on_guest = on_hole(0, 1);
    on_guest.host = {Host::Kind::placement, two.guest, "front", {}, {}, shop::TableSide::south};
    EXPECT_EQ(move(two.setup, two.stage, two.host, on_guest).error().text.id, "edit.stands_on_itself");
    on_guest.host.placement = two.host;
    EXPECT_EQ(move(two.setup, two.stage, two.host, on_guest).error().text.id, "edit.stands_on_itself");
}

TEST(Edit, AHostIsRemovedOnlyWithItsGuestsAndTheyAreNamed) {
    const Two two = host_and_guest();
    const auto refused = remove(two.setup, two.stage, two.host);
    ASSERT_FALSE(refused.ok());
    EXPECT_EQ(base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en").render(refused.error().text),
              "Block 2 stands on block 1: remove it first, or remove all together.");
    const auto all = remove(two.setup, two.stage, two.host, true);
    ASSERT_TRUE(all.ok());
    EXPECT_TRUE(all->stages[0].placements.empty());
    EXPECT_TRUE(all->components.empty());
}

TEST(Edit, StepsForgetWhatIsRemoved) {
    const Two two = host_and_guest();
    std::vector<Step> order(3);
    order[0] = {{}, StepKind::set, {two.guest}, {}, {}, ""};
    order[1] = {{}, StepKind::clamp_hard, {two.host, two.guest}, {PieceId{1}}, {}, ""};
    order[2] = {{}, StepKind::cool, {}, {}, {}, ""};
    auto ordered = set_order(two.setup, two.stage, order);
    ASSERT_TRUE(ordered.ok());
    ordered->stages[0].as_set_mm[two.guest] = 0.2;
    const auto fewer = remove(*ordered, two.stage, two.guest);
    ASSERT_TRUE(fewer.ok());
    const auto& left = fewer->stages[0].order;
    ASSERT_EQ(left.size(), 2u);
    EXPECT_THAT(left[0].placements, testing::ElementsAre(two.host));
    EXPECT_EQ(left[1].kind, StepKind::cool);
    EXPECT_TRUE(fewer->stages[0].as_set_mm.empty());
    EXPECT_TRUE(parse_job(job_json(*fewer), "x").ok());
}

TEST(Edit, TheOrderNamesOnlyWhatIsThereAndEachStepOnce) {
    const Two two = host_and_guest();
    const auto error = [&](Step step) {
        const auto ordered = set_order(two.setup, two.stage, {std::move(step)});
        return ordered ? std::string() : ordered.error().text.id;
    };
    EXPECT_EQ(error({{}, StepKind::set, {PlacementId{99}}, {}, {}, ""}), "edit.placement_unknown");
    EXPECT_EQ(error({{}, StepKind::load, {}, {PieceId{99}}, {}, ""}), "edit.piece_not_in_stage");
    EXPECT_EQ(error({{}, StepKind::weld, {}, {}, {SeamId{99}}, ""}), "edit.seam_unknown");
    EXPECT_EQ(error({{}, StepKind::weld, {two.host}, {PieceId{1}}, {SeamId{1}}, ""}), "");
    const auto once = set_order(two.setup, two.stage, {Step{}, Step{}});
    ASSERT_TRUE(once.ok());
    auto order = once->stages[0].order;
    EXPECT_NE(order[0].id, order[1].id);
    EXPECT_TRUE(set_order(*once, two.stage, {order[1], order[0]}).ok());
    EXPECT_EQ(set_order(*once, two.stage, {order[0], order[0]}).error().text.id, "edit.step_twice");
}

TEST(Edit, HoldingByTheSetUpIsWhatGoesWithoutSaying) {
    const Job setup = example_job();
    const StageId stage = setup.stages[0].id;
    const auto nested = hold(setup, stage, PieceId{2}, HeldBy::nested);
    ASSERT_TRUE(nested.ok());
    EXPECT_EQ(nested->stages[0].held(PieceId{2}), HeldBy::nested);
    EXPECT_TRUE(same(*hold(*nested, stage, PieceId{2}, HeldBy::set_up), setup));
}

}  // namespace
}  // namespace setwright::setup
