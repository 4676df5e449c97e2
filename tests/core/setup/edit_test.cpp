#include "core/setup/edit.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

#include "core/setup/place.h"
#include "tests/core/setup/parts.h"

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

/// Two bars with faces, one lying askew in M where `askew`.
Job faced_job(bool askew) {
    Job setup = seat_setup();
    const Pose X_MP =
        askew ? Pose::move(300, 40, 10) * Pose::turn_x(Angle::deg(33)) * Pose::turn_z(Angle::deg(-71)) : Pose();
    add_pieces(setup, {bar_piece(7, "P1", Vec3(0, 0, 0), Vec3(60, 40, 500)),
                       bar_piece(8, "P2", Vec3(60, 0, 0), Vec3(200, 30, 50), X_MP)});
    return *lay(setup, setup.stages[0].id, "-Z", 0, Vec3(75, 125, 50));
}

Vec3 face_normal_T(const Job& setup, std::size_t piece, int face) {
    const weldment::Piece& p = setup.weldments[0].model->pieces[piece];
    return (setup.stages[0].lay.X_TM * p.X_MP).turn(p.solid->faces[static_cast<std::size_t>(face)].surface.axis);
}

void expect_over_its_place(const Job& before, const Job& after) {
    const space::Aabb was = box_T(before, before.stages[0]), is = box_T(after, after.stages[0]);
    EXPECT_NEAR(is.centre().x(), was.centre().x(), 1e-8);
    EXPECT_NEAR(is.centre().y(), was.centre().y(), 1e-8);
    EXPECT_NEAR(is.min.z(), was.min.z(), 1e-8);
}

TEST(Edit, AFaceGoesDownByTheShortestTurnOverItsPlace) {
    std::mt19937 random(7);
    std::uniform_real_distribution<double> deg(-180, 180);
    for (int i = 0; i < 40; ++i) {
        Job setup = faced_job(i % 2 == 1);
        const StageId stage = setup.stages[0].id;
        setup = *lay(setup, stage,
                     Pose::move(400, 300, 77) * Pose::turn_x(Angle::deg(deg(random))) *
                         Pose::turn_y(Angle::deg(deg(random))) * Pose::turn_z(Angle::deg(deg(random))));
        for (const std::size_t piece : {0u, 1u})
            for (int face = 0; face < 6; ++face) {
                const auto down = lay_face_down(setup, stage, PieceId{7 + static_cast<std::uint32_t>(piece)}, face);
                ASSERT_TRUE(down.ok()) << down.error().text.id;
                EXPECT_LT((face_normal_T(*down, piece, face) + Vec3::UnitZ()).norm(), exact_mm);
                expect_over_its_place(setup, *down);
                const Eigen::AngleAxisd turned(down->stages[0].lay.X_TM.rotation() *
                                               setup.stages[0].lay.X_TM.rotation().transpose());
                EXPECT_NEAR(std::cos(turned.angle()), -face_normal_T(setup, piece, face).z(), 1e-9)
                    << "no longer a turn than the face asks for";
                // Laid once more it stays as it is.
                const auto again = lay_face_down(*down, stage, PieceId{7 + static_cast<std::uint32_t>(piece)}, face);
                EXPECT_LT(pose_difference_mm(again->stages[0].lay.X_TM, down->stages[0].lay.X_TM, 1000), 1e-7);
            }
    }
}

TEST(Edit, SquareWeldmentsStayExactlySquareHoweverOftenTheyAreLaid) {
    std::mt19937 random(11);
    Job setup = faced_job(false);
    const StageId stage = setup.stages[0].id;
    std::set<std::string> sides;
    for (int i = 0; i < 200; ++i) {
        const int face = std::uniform_int_distribution<int>(0, 5)(random);
        const int quarters = std::uniform_int_distribution<int>(-5, 5)(random);
        setup = *lay_face_down(setup, stage, PieceId{7}, face);
        setup = *turn_laid(setup, stage, quarters * 90);
        const Lay& now = setup.stages[0].lay;
        for (const double entry : now.X_TM.rotation().reshaped()) EXPECT_EQ(entry, std::round(entry));
        EXPECT_EQ(std::fmod(now.yaw_deg, 90), 0);
        sides.insert(now.side_down);
        // The lay read off is the lay: written down as side, turn and corner it comes out the same.
        const auto said = lay(setup, stage, now.side_down, now.yaw_deg, laid_box(setup, setup.stages[0]).min);
        ASSERT_TRUE(said.ok()) << now.side_down;
        EXPECT_EQ(said->stages[0].lay.X_TM.rotation(), now.X_TM.rotation());
        EXPECT_LT((said->stages[0].lay.X_TM.position() - now.X_TM.position()).norm(), exact_mm);
        expect_over_its_place(faced_job(false), setup);
    }
    EXPECT_EQ(sides.size(), 6u);
}

TEST(Edit, TheFaceOfAPieceThatLiesAskewGoesDownExactlyToo) {
    Job setup = faced_job(true);
    const StageId stage = setup.stages[0].id;
    setup = *lay_face_down(setup, stage, PieceId{8}, 4);
    EXPECT_EQ(setup.stages[0].lay.side_down, "");
    EXPECT_LT((face_normal_T(setup, 1, 4) + Vec3::UnitZ()).norm(), 1e-12);
    // And a square face after it is square again.
    setup = *lay_face_down(setup, stage, PieceId{7}, 2);
    EXPECT_EQ(setup.stages[0].lay.side_down, "-Y");
    EXPECT_EQ(setup.stages[0].lay.X_TM.rotation()(2, 1), 1);
}

TEST(Edit, EightTurnsBy45AndFourBy90GiveTheSameJobBack) {
    for (const char* side : {"-Z", "+Z", "-Y", "+Y", "-X", "+X"}) {
        Job start = faced_job(false);
        const StageId stage = start.stages[0].id;
        start = *lay(start, stage, side, 0, Vec3(75, 125, 50));
        for (const int steps : {4, 8, -4, -8}) {
            Job setup = start;
            for (int i = 0; i < std::abs(steps); ++i) {
                const Job before = setup;
                setup = *turn_laid(setup, stage, 360.0 / steps);
                expect_over_its_place(before, setup);
                const space::Mat3 turned =
                    setup.stages[0].lay.X_TM.rotation() * before.stages[0].lay.X_TM.rotation().transpose();
                EXPECT_LT((turned - Pose::turn_z(Angle::deg(360.0 / steps)).rotation()).norm(), 1e-12);
            }
            EXPECT_TRUE(same(setup, start)) << side << " " << steps;
        }
    }
}

TEST(Edit, AFreeLayTurnsAboutTheUprightLineToo) {
    Job setup = faced_job(true);
    const StageId stage = setup.stages[0].id;
    setup = *lay(setup, stage, Pose::move(400, 300, 77) * Pose::turn_x(Angle::deg(20)));
    const auto turned = turn_laid(setup, stage, 17);
    ASSERT_TRUE(turned.ok());
    expect_over_its_place(setup, *turned);
    EXPECT_EQ(turned->stages[0].lay.side_down, "");
    const auto back = turn_laid(*turned, stage, -17);
    EXPECT_LT(pose_difference_mm(back->stages[0].lay.X_TM, setup.stages[0].lay.X_TM, 1000), 1e-7);
}

TEST(Edit, ShiftingMovesAllPiecesAndNothingElse) {
    const Job setup = faced_job(false);
    const StageId stage = setup.stages[0].id;
    const auto shifted = shift_laid(setup, stage, Vec3(0.1, -50, 12.5));
    ASSERT_TRUE(shifted.ok());
    const space::Aabb was = laid_box(setup, setup.stages[0]), is = laid_box(*shifted, shifted->stages[0]);
    EXPECT_LT((is.min - was.min - Vec3(0.1, -50, 12.5)).norm(), exact_mm);
    EXPECT_EQ(shifted->stages[0].lay.X_TM.rotation(), setup.stages[0].lay.X_TM.rotation());
    EXPECT_EQ(shifted->stages[0].lay.side_down, "-Z");
    Job tenth = setup;
    for (int i = 0; i < 10; ++i) tenth = *shift_laid(tenth, stage, Vec3(0.1, 0.1, 0.1));
    EXPECT_TRUE(same(*shift_laid(tenth, stage, -Vec3::Ones()), setup)) << "tenths do not add up roundings";
}

TEST(Edit, TheLaidBoxIsThatOfThePiecesPresent) {
    Job setup = faced_job(false);
    const space::Aabb box = laid_box(setup, setup.stages[0]);
    EXPECT_EQ(box.min, Vec3(75, 125, 50));
    EXPECT_EQ(box.max, Vec3(275, 165, 550));
    setup.weldments[0].piece_edits[PieceId{8}].left_out = true;
    EXPECT_EQ(laid_box(setup, setup.stages[0]).max, Vec3(135, 165, 550));
    setup.stages[0].pieces.clear();
    EXPECT_TRUE(laid_box(setup, setup.stages[0]).empty());
}

TEST(Edit, WhatCannotBeLaidIsRefusedWithAReason) {
    Job setup = faced_job(false);
    const StageId stage = setup.stages[0].id;
    auto model = std::make_shared<weldment::Weldment>(*setup.weldments[0].model);
    auto solid = std::make_shared<space::Solid>(*model->pieces[0].solid);
    solid->faces[3].surface.kind = space::SurfaceKind::cylinder;
    model->pieces[0].solid = solid;
    setup.weldments[0].model = model;
    const auto english = base::TextCatalogue::load(SETWRIGHT_RESOURCES_DIR "/translations/en");
    const auto round = lay_face_down(setup, stage, PieceId{7}, 3);
    ASSERT_FALSE(round.ok());
    EXPECT_EQ(english.render(round.error().text),
              "The weldment can only lie on a flat face: choose a flat face of P1.");
    EXPECT_EQ(lay_face_down(setup, stage, PieceId{7}, 6).error().text.id, "edit.face_not_flat");
    EXPECT_EQ(lay_face_down(setup, stage, PieceId{7}, -1).error().text.id, "edit.face_not_flat");
    EXPECT_EQ(lay_face_down(setup, stage, PieceId{9}, 0).error().text.id, "edit.piece_not_in_stage");
    EXPECT_EQ(lay_face_down(setup, StageId{99}, PieceId{7}, 0).error().text.id, "edit.stage_unknown");
    EXPECT_EQ(turn_laid(setup, StageId{99}, 90).error().text.id, "edit.stage_unknown");
    EXPECT_EQ(turn_laid(setup, stage, std::nan("")).error().text.id, "edit.lay_not_a_number");
    EXPECT_EQ(shift_laid(setup, stage, Vec3(0, INFINITY, 0)).error().text.id, "edit.lay_not_a_number");
    EXPECT_EQ(shift_laid(setup, StageId{99}, Vec3(0, 0, 0)).error().text.id, "edit.stage_unknown");
    setup.weldments[0].piece_edits[PieceId{7}].left_out = true;
    EXPECT_EQ(lay_face_down(setup, stage, PieceId{7}, 0).error().text.id, "edit.piece_not_in_stage");
    setup.weldments[0].piece_edits[PieceId{8}].left_out = true;
    EXPECT_EQ(turn_laid(setup, stage, 90).error().text.id, "edit.nothing_to_lay");
}

TEST(Edit, WhatSitsOnAPieceComesAlongWithIt) {
    Job setup = faced_job(true);
    const StageId stage = setup.stages[0].id;
    Seat seat;
    seat.host.kind = Host::Kind::piece;
    seat.host.pieces = {PieceId{7}};
    seat.host.piece_faces = {weldment::face_key(setup.weldments[0].model->pieces[0], 1)};
    seat.turn = {0, 0};
    seat.along_tenths = 1000;
    seat.across_tenths = 200;
    const auto magnet = std::make_shared<const shop::Component>(magnet_part());
    const auto placed = place(setup, stage, magnet, seat);
    ASSERT_TRUE(placed.ok()) << placed.error().text.id;
    const auto in_M = [&](const Job& job) {
        const Stage& in = job.stages[0];
        return in.lay.X_TM.inverse() * pose(job, in, *in.find(placed->id))->X_TC;
    };
    for (const auto& edited :
         {lay_face_down(placed->setup, stage, PieceId{8}, 3), lay_face_down(placed->setup, stage, PieceId{7}, 1),
          turn_laid(placed->setup, stage, 45), shift_laid(placed->setup, stage, Vec3(1, 2, 3))}) {
        ASSERT_TRUE(edited.ok());
        EXPECT_EQ(edited->stages[0].placements, placed->setup.stages[0].placements);
        EXPECT_LT(pose_difference_mm(in_M(*edited), in_M(placed->setup), 1000), 1e-7);
    }
    // A seat whose face is gone is named, not carried along.
    Job gone = placed->setup;
    gone.stages[0].placements[0].seat.host.piece_faces[0].offset_mm += 5;
    EXPECT_EQ(turn_laid(gone, stage, 45).error().text.id, "seat.piece_face_missing");
    EXPECT_EQ(lay_face_down(gone, stage, PieceId{7}, 1).error().text.id, "seat.piece_face_missing");
}

TEST(Edit, LocksAndNotesAreOfOnePlacement) {
    const Two two = host_and_guest();
    const auto locked = lock(two.setup, two.stage, two.guest, true);
    ASSERT_TRUE(locked.ok());
    EXPECT_TRUE(locked->stages[0].find(two.guest)->locked);
    EXPECT_FALSE(locked->stages[0].find(two.host)->locked);
    EXPECT_TRUE(same(*lock(*locked, two.stage, two.guest, false), two.setup));
    const auto noted = note(two.setup, two.stage, two.host, "tight");
    ASSERT_TRUE(noted.ok());
    EXPECT_EQ(noted->stages[0].find(two.host)->note, "tight");
    EXPECT_EQ(noted->stages[0].find(two.guest)->note, "");
    EXPECT_EQ(lock(two.setup, two.stage, PlacementId{99}, true).error().text.id, "edit.placement_unknown");
    EXPECT_EQ(note(two.setup, StageId{99}, two.host, "").error().text.id, "edit.stage_unknown");
}

TEST(Edit, TitleDisplayAndNotesAreReplacedWhole) {
    const Job setup = example_job();
    TitleBlock title;
    title.job = "4711";
    EXPECT_EQ(set_title(setup, title).title, title);
    Display display;
    display.paper = "A3";
    EXPECT_EQ(set_display(setup, display).display, display);
    EXPECT_EQ(set_notes(setup, "keep dry").notes, "keep dry");
    EXPECT_TRUE(same(set_notes(set_notes(setup, "x"), setup.notes), setup));
}

TEST(Edit, AFindingIsAcceptedOncePerRuleAndSubjects) {
    const Job setup = example_job();
    const Accepted finding{"clear.piece", {"stage 4", "block 1"}, 2.5, "wide enough"};
    Job accepted = accept(setup, finding);
    Accepted other = finding;
    other.subjects = {"stage 4", "block 2"};
    accepted = accept(accepted, other);
    Accepted anew = finding;
    anew.measured = 2.1;
    accepted = accept(accepted, anew);
    EXPECT_THAT(accepted.accepted, testing::UnorderedElementsAre(anew, other));
    EXPECT_THAT(unaccept(accepted, finding).accepted, testing::ElementsAre(other)) << "whatever was measured";
    EXPECT_TRUE(same(unaccept(unaccept(accepted, other), finding), setup));
}

TEST(Edit, AJobThatKnowsAllPackersKeepsTheOnesInUse) {
    shop::Catalogue catalogue;
    for (const double t : {1.0, 2.0, 5.0})
        catalogue.components.push_back(
            std::make_shared<const shop::Component>(packer_part("packer-" + base::number_text(t), t)));
    catalogue.components.push_back(std::make_shared<const shop::Component>(rest_part()));
    const Job setup = example_job();
    const StageId stage = setup.stages[0].id;
    const Job knowing = with_packers(setup, catalogue);
    const auto names = [](const Job& job) {
        std::vector<std::string> ids;
        for (const auto& [id, component] : job.components) ids.push_back(id);
        return ids;
    };
    EXPECT_THAT(names(knowing), testing::ElementsAre("packer-1", "packer-2", "packer-5")) << "packers only";
    Seat seat = on_hole(20, 10);
    seat.packers = {packer_of(Packer::Where::under, 2)};
    const auto placed = place(knowing, stage, std::make_shared<const shop::Component>(rest_part()), seat);
    ASSERT_TRUE(placed.ok()) << placed.error().text.id;
    EXPECT_THAT(names(placed->setup), testing::ElementsAre("packer-2", "rest"));
    seat.packers = {packer_of(Packer::Where::under, 5)};
    const auto moved = move(with_packers(placed->setup, catalogue), stage, placed->id, seat);
    ASSERT_TRUE(moved.ok());
    EXPECT_THAT(names(*moved), testing::ElementsAre("packer-5", "rest"));
    const auto removed = remove(with_packers(*moved, catalogue), stage, placed->id);
    ASSERT_TRUE(removed.ok());
    EXPECT_THAT(names(*removed), testing::IsEmpty());
    const auto unknown = place(setup, stage, std::make_shared<const shop::Component>(rest_part()), seat);
    ASSERT_FALSE(unknown.ok());
    EXPECT_EQ(unknown.error().text.id, "seat.packer_not_in_job");
    // The job's own definition of a packer is not written over.
    Job own = setup;
    own.components["packer-2"] = std::make_shared<const shop::Component>(packer_part("packer-2", 2.1));
    EXPECT_EQ(with_packers(own, catalogue).find_component("packer-2")->thickness_mm, 2.1);
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
