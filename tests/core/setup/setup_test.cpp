#include "core/setup/setup.h"

#include <gtest/gtest.h>

#include "tests/core/setup/example.h"

namespace setwright::setup {
namespace {

TEST(Setup, NameIsTheUsersElseTheModelsElseTheNumber) {
    Job setup = example_job();
    EXPECT_EQ(setup.piece_name(PieceId{1}), "post");
    setup.weldments[0].piece_edits[PieceId{1}].name = "mast";
    EXPECT_EQ(setup.piece_name(PieceId{1}), "mast");
    setup.weldments[0].model = nullptr;
    EXPECT_EQ(setup.piece_name(PieceId{2}), "piece 2");
    EXPECT_EQ(full_job().piece_name(full_job().weldments[0].drawn[0].id), "brace");
}

TEST(Setup, LookupsGiveNothingForIdsThatAreNotThere) {
    const Job setup = full_job();
    EXPECT_EQ(setup.find_stage(StageId{}), nullptr);
    EXPECT_EQ(setup.find_component("stool"), nullptr);
    EXPECT_EQ(setup.stages[0].find(PlacementId{999}), nullptr);
    EXPECT_EQ(setup.find_piece(PieceId{999}), nullptr);
    EXPECT_EQ(setup.find_seam(SeamId{999}), nullptr);
    EXPECT_EQ(setup.stages[0].held(PieceId{2}), HeldBy::by_hand);
    EXPECT_EQ(setup.stages[0].held(PieceId{999}), HeldBy::set_up);
    ASSERT_NE(setup.find_piece(PieceId{2}), nullptr);
    EXPECT_EQ(setup.find_piece(PieceId{2})->name, "foot");
    ASSERT_NE(setup.find_seam(SeamId{2}), nullptr);
}

TEST(Setup, ComponentsAreTheSameByDefinitionNotByAddress) {
    Job a = full_job();
    Job b = full_job();
    ASSERT_NE(a.components["block"], b.components["block"]);
    EXPECT_TRUE(same(a, b));
    shop::Component other = *b.components["block"];
    other.mass_kg += 0.1;
    b.components["block"] = std::make_shared<const shop::Component>(other);
    EXPECT_FALSE(same(a, b));
}

TEST(Setup, TheDerivedModelDoesNotCount) {
    Job other = full_job();
    other.weldments[0].model = nullptr;
    EXPECT_TRUE(same(full_job(), other));
}

}  // namespace
}  // namespace setwright::setup
