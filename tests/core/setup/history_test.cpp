#include "core/setup/history.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

#include "tests/core/setup/example.h"

namespace setwright::setup {
namespace {

/// One edit by chance; none where the chosen one is refused.
std::optional<Job> random_edit(const Job& setup, std::mt19937& random) {
    const auto pick = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(random); };
    const Stage& stage = setup.stages[static_cast<std::size_t>(pick(0, static_cast<int>(setup.stages.size()) - 1))];
    Seat seat;
    seat.hole = {pick(2, 50), pick(0, 25)};
    const auto one = [&] {
        if (stage.placements.empty()) return PlacementId{};
        return stage.placements[static_cast<std::size_t>(pick(0, static_cast<int>(stage.placements.size()) - 1))].id;
    };
    const auto value = [](base::Result<Job> result) {
        return result ? std::optional(std::move(result).value()) : std::nullopt;
    };
    switch (pick(0, 7)) {
        case 0:
        case 1: {
            auto placed = place(setup, stage.id, example_component(), seat);
            return placed ? std::optional(std::move(placed->setup)) : std::nullopt;
        }
        case 2:
            return value(move(setup, stage.id, one(), seat));
        case 3:
            return value(remove(setup, stage.id, one(), pick(0, 1) == 1));
        case 4:
            return value(hold(setup, stage.id, PieceId{static_cast<std::uint32_t>(pick(1, 2))},
                              static_cast<HeldBy>(pick(0, 2))));
        case 5:
            return value(
                lay(setup, stage.id, pick(0, 1) == 1 ? "-Y" : "+X", pick(0, 23) * 15, space::Vec3(75, 75, 50)));
        case 6: {
            Step step{{}, StepKind::set, {}, {}, {}, "step"};
            if (one().valid()) step.placements = {one()};
            std::vector<Step> order = stage.order;
            order.push_back(step);
            return value(set_order(setup, stage.id, order));
        }
        default:
            return setup.stages.size() < 3 ? value(add_stage(setup, "more")) : std::nullopt;
    }
}

TEST(History, UndoingAllGivesTheStartAndRedoingAllTheEnd) {
    for (unsigned seed = 1; seed <= 20; ++seed) {
        std::mt19937 random(seed);
        const Job start = example_job();
        History history(start);
        std::vector<Job> states{start};
        int refused = 0;
        while (states.size() < 40) {
            auto next = random_edit(history.now(), random);
            if (!next) {
                ASSERT_LT(++refused, 5000);
                continue;
            }
            history.commit(*next, "edit " + std::to_string(states.size()));
            states.push_back(*next);
        }
        for (std::size_t i = states.size(); i-- > 1;) {
            ASSERT_TRUE(history.can_undo());
            EXPECT_EQ(history.undo_label(), "edit " + std::to_string(i));
            ASSERT_TRUE(same(history.now(), states[i]));
            history.undo();
        }
        EXPECT_FALSE(history.can_undo());
        EXPECT_TRUE(same(history.now(), start));
        while (history.can_redo()) history.redo();
        EXPECT_TRUE(same(history.now(), states.back()));
        EXPECT_EQ(history.revision(), 3u * (states.size() - 1));
        // What was edited at will is a job that opens again.
        const auto opened = parse_job(job_json(history.now()), "x");
        ASSERT_TRUE(opened.ok()) << opened.error().text.id;
        EXPECT_TRUE(same(opened->setup, history.now()));
    }
}

TEST(History, ACommitAfterUndoDropsWhatWasUndone) {
    History history(example_job());
    Job one = history.now();
    one.notes = "one";
    history.commit(one, "one");
    history.undo();
    Job two = history.now();
    two.notes = "two";
    history.commit(two, "two");
    EXPECT_FALSE(history.can_redo());
    EXPECT_EQ(history.undo_label(), "two");
    history.undo();
    EXPECT_EQ(history.now().notes, "");
}

TEST(History, ASharedValueStaysAsItWas) {
    History history(example_job());
    const auto frozen = history.share();
    Job next = history.now();
    next.notes = "later";
    history.commit(next, "note");
    EXPECT_EQ(frozen->notes, "");
    EXPECT_EQ(history.now().notes, "later");
    EXPECT_EQ(frozen->weldments[0].model, history.now().weldments[0].model) << "bodies are shared, not copied";
}

TEST(History, UndoWithNothingToTakeBackIsOurBug) {
    History history(example_job());
    EXPECT_DEATH(history.undo(), "undo");
    EXPECT_DEATH(history.redo(), "redo");
}

TEST(History, ChangesNamePlacementsByWhatHappenedToThem) {
    const Job before = full_job();
    const auto& placements = before.stages[0].placements;
    EXPECT_TRUE(changes(before, before).added.empty());
    EXPECT_FALSE(changes(before, before).rest);

    Job after = before;
    Placement more = placements[0];
    more.id = PlacementId{after.next_id()};
    after.stages[0].placements.push_back(more);
    after.stages[0].placements[2].note = "other";
    after.stages[0].placements.erase(after.stages[0].placements.begin() + 3);
    Changes found = changes(before, after);
    EXPECT_THAT(found.added, testing::ElementsAre(more.id));
    EXPECT_THAT(found.removed, testing::ElementsAre(placements[3].id));
    EXPECT_THAT(found.altered, testing::ElementsAre(placements[2].id));
    EXPECT_FALSE(found.rest);

    after = before;
    after.stages[0].placements[0].seat.hole.col += 1;
    found = changes(before, after);
    EXPECT_THAT(found.altered, testing::ElementsAre(placements[0].id, placements[1].id)) << "the guest moved along";

    after = before;
    after.stages[0].lay.yaw_deg += 1;
    EXPECT_TRUE(changes(before, after).rest);
    EXPECT_TRUE(changes(before, after).altered.empty());

    after = before;
    shop::Component heavier = *after.components["clamp"];
    heavier.mass_kg += 1;
    after.components["clamp"] = std::make_shared<const shop::Component>(heavier);
    EXPECT_THAT(changes(before, after).altered, testing::ElementsAre(placements[2].id, placements[3].id));
}

}  // namespace
}  // namespace setwright::setup
