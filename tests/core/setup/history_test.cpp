#include "core/setup/history.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <random>

#include "tests/core/setup/parts.h"

namespace setwright::setup {
namespace {

/// The example's two bars, with faces.
Job job_with_faces() {
    Job setup = example_job();
    auto model = std::make_shared<weldment::Weldment>(*setup.weldments[0].model);
    for (weldment::Piece& piece : model->pieces)
        piece.solid = bar_piece(1, "", piece.solid->box.min, piece.solid->box.max).solid;
    setup.weldments[0].model = model;
    return setup;
}

/// What takes `before` to `after`, put together from what changes() names and the rest of `after`.
Job applied(const Job& before, const Job& after, const Changes& found) {
    Job job = found.rest ? after : before;
    std::map<StageId, std::vector<Placement>> standing;
    for (const Stage& stage : before.stages)
        for (const Placement& placement : stage.placements)
            if (!found.removed.contains(placement.id) && !found.altered.contains(placement.id))
                standing[stage.id].push_back(placement);
    for (const Stage& stage : after.stages)
        for (const Placement& placement : stage.placements)
            if (found.added.contains(placement.id) || found.altered.contains(placement.id))
                standing[stage.id].push_back(placement);
    for (Stage& stage : job.stages) stage.placements = standing[stage.id];
    // Definitions and ids come and go with placements.
    job.components = after.components;
    job.last_id = after.last_id;
    return job;
}

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
    switch (pick(0, 15)) {
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
        case 7: {
            // A face of the post or of the foot; refused in a stage without them.
            const auto piece = PieceId{static_cast<std::uint32_t>(pick(1, 2))};
            return value(lay_face_down(setup, stage.id, piece, pick(-1, 6)));
        }
        case 8:
            return value(turn_laid(setup, stage.id, pick(-12, 12) * 15));
        case 9:
            return value(shift_laid(setup, stage.id, space::Vec3(pick(-9, 9), pick(-9, 9) / 10.0, pick(0, 9))));
        case 10:
            return value(lock(setup, stage.id, one(), pick(0, 1) == 1));
        case 11:
            return value(note(setup, stage.id, one(), "note " + std::to_string(pick(1, 3))));
        case 12: {
            TitleBlock title = setup.title;
            title.revision = std::to_string(pick(1, 9));
            Display display = setup.display;
            display.paper = pick(0, 1) == 1 ? "A3" : "A4";
            return set_notes(set_display(set_title(setup, title), display), "notes " + std::to_string(pick(1, 3)));
        }
        case 13: {
            const Accepted finding{"rule", {"stage " + std::to_string(pick(1, 2))}, pick(1, 9) / 2.0, "fine"};
            return pick(0, 2) == 0 ? unaccept(setup, finding) : accept(setup, finding);
        }
        case 14: {
            // As the window does it: against a job that knows all packers.
            Seat packed = seat;
            packed.packers = {packer_of(Packer::Where::under, pick(1, 2))};
            shop::Catalogue catalogue;
            for (const double t : {1.0, 2.0, 5.0}) {
                shop::Component packer = *example_component("packer-" + base::number_text(t));
                packer.family = shop::Family::packer;
                packer.thickness_mm = t;
                catalogue.components.push_back(std::make_shared<const shop::Component>(std::move(packer)));
            }
            auto raised = std::make_shared<shop::Component>(*example_component("raised"));
            raised->packers_under = true;
            auto placed = place(with_packers(setup, catalogue), stage.id, raised, packed);
            return placed ? std::optional(std::move(placed->setup)) : std::nullopt;
        }
        default:
            return setup.stages.size() < 3 ? value(add_stage(setup, "more")) : std::nullopt;
    }
}

TEST(History, UndoingAllGivesTheStartAndRedoingAllTheEnd) {
    for (unsigned seed = 1; seed <= 20; ++seed) {
        std::mt19937 random(seed);
        const Job start = job_with_faces();
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

TEST(History, ChangesBetweenAnyTwoStatesTellAllThereIs) {
    std::mt19937 random(4);
    std::vector<Job> states{job_with_faces()};
    while (states.size() < 60)
        if (auto next = random_edit(states.back(), random)) states.push_back(*next);
    int with_rest = 0, without_rest = 0;
    for (std::size_t i = 0; i < states.size(); ++i) {
        for (const std::size_t j : {i, i == 0 ? i : i - 1, states.size() - 1 - i, (i * 7 + 3) % states.size()}) {
            const Changes found = changes(states[i], states[j]), back = changes(states[j], states[i]);
            EXPECT_TRUE(same(applied(states[i], states[j], found), states[j])) << i << " to " << j;
            EXPECT_EQ(found.added, back.removed);
            EXPECT_EQ(found.removed, back.added);
            EXPECT_EQ(found.rest, back.rest);
            ++(found.rest ? with_rest : without_rest);
        }
    }
    EXPECT_GT(with_rest, 20);
    EXPECT_GT(without_rest, 20);
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
