#include "app/session.h"

#include <gtest/gtest.h>

#include <optional>
#include <random>

#include "tests/core/setup/example.h"
#include "viewer/scene.h"

namespace setwright::app {
namespace {

using setup::Job;

const base::Text edit_label{"edit.number", {{"no", "x"}}};

/// Keeps what the session said.
struct Listener {
    explicit Listener(Session& session) {
        QObject::connect(&session, &Session::opened, [this] { ++opened; });
        QObject::connect(&session, &Session::changed, [this](const setup::Changes& c) { changed.push_back(c); });
        QObject::connect(&session, &Session::tried, [this] { ++tried; });
        QObject::connect(&session, &Session::stage_changed, [this] { ++stage_changed; });
        QObject::connect(&session, &Session::selection_changed, [this] { ++selection_changed; });
        QObject::connect(&session, &Session::file_changed, [this] { ++file_changed; });
        QObject::connect(&session, &Session::refused, [this](const base::Text& text) { refused.push_back(text); });
    }
    int opened = 0, tried = 0, stage_changed = 0, selection_changed = 0, file_changed = 0;
    std::vector<setup::Changes> changed;
    std::vector<base::Text> refused;
};

setup::Seat at(int col, int row) {
    setup::Seat seat;
    seat.hole = {col, row};
    return seat;
}

Job with_block(const Job& job, int col, int row) {
    auto placed = setup::place(job, job.stages[0].id, setup::example_component(), at(col, row));
    EXPECT_TRUE(placed.ok());
    return placed->setup;
}

Job with_notes(Job job, const std::string& notes) {
    return setup::set_notes(job, notes);
}

/// One edit by chance in the stage worked on, or in another one.
base::Result<Job> random_edit(const Session& session, std::mt19937& random) {
    const Job& job = session.now();
    const auto pick = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(random); };
    const setup::Stage& stage = job.stages[static_cast<std::size_t>(pick(0, static_cast<int>(job.stages.size()) - 1))];
    const auto one = [&] {
        if (stage.placements.empty()) return setup::PlacementId{};
        return stage.placements[static_cast<std::size_t>(pick(0, static_cast<int>(stage.placements.size()) - 1))].id;
    };
    switch (pick(0, 7)) {
        case 0:
        case 1: {
            auto placed = setup::place(job, stage.id, setup::example_component(), at(pick(2, 45), pick(0, 22)));
            if (!placed) return placed.error();
            return placed->setup;
        }
        case 2:
            return setup::move(job, stage.id, one(), at(pick(2, 45), pick(0, 22)));
        case 3:
            return setup::remove(job, stage.id, one(), true);
        case 4:
            return setup::hold(job, stage.id, setup::PieceId{1}, static_cast<setup::HeldBy>(pick(0, 2)));
        case 5:
            return setup::lay(job, stage.id, pick(0, 1) == 1 ? "-Y" : "+X", pick(0, 3) * 90, {75, 75, 50});
        case 6: {
            Job next = job;
            if (next.stages.size() > 1) next.stages.pop_back();
            return next;
        }
        default:
            if (job.stages.size() > 2) return with_notes(job, std::to_string(pick(0, 99)));
            return setup::add_stage(job, "more");
    }
}

TEST(Session, UndoingAllGivesTheStartAndRedoingAllTheEndWhateverWasEdited) {
    for (unsigned seed = 1; seed <= 10; ++seed) {
        std::mt19937 random(seed);
        Session session({});
        const Job start = setup::example_job();
        session.open(start, "", false);
        viewer::ShapeBook shapes;
        viewer::Scene followed = viewer::make_scene(session.now(), session.stage(), shapes);
        std::shared_ptr<const Job> shown = session.share();
        int told = 0;
        QObject::connect(&session, &Session::changed, [&](const setup::Changes& changes) {
            ++told;
            const setup::Changes real = setup::changes(*shown, session.now());
            EXPECT_EQ(changes.added, real.added);
            EXPECT_EQ(changes.removed, real.removed);
            EXPECT_EQ(changes.altered, real.altered);
            EXPECT_EQ(changes.rest, real.rest);
            shown = session.share();
            viewer::update(followed, session.now(), session.stage(), changes, shapes);
            EXPECT_TRUE(viewer::same(followed, viewer::make_scene(session.now(), session.stage(), shapes)));
        });
        QObject::connect(&session, &Session::stage_changed,
                         [&] { followed = viewer::make_scene(session.now(), session.stage(), shapes); });
        int done = 0;
        for (int i = 0; i < 60; ++i) {
            session.go_to_stage(session.now().stages[random() % session.now().stages.size()].id);
            const auto before = session.share();
            const auto next = random_edit(session, random);
            const bool applied = session.apply(next, {"edit.number", {{"no", std::to_string(i)}}});
            EXPECT_EQ(applied, next.ok());
            if (session.share() != before) ++done;
        }
        ASSERT_GT(done, 20);
        EXPECT_EQ(told, done);
        const Job end = session.now();
        int steps = 0;
        for (; session.can_undo(); ++steps) session.undo();
        EXPECT_EQ(steps, done);
        EXPECT_TRUE(setup::same(session.now(), start));
        EXPECT_FALSE(session.unsaved());
        while (session.can_redo()) session.redo();
        EXPECT_TRUE(setup::same(session.now(), end));
        EXPECT_EQ(told, 3 * done);
    }
}

TEST(Session, AnEditThatChangesNothingLeavesNoTrace) {
    Session session({});
    session.open(setup::example_job(), "", false);
    const Listener heard(session);
    const std::uint64_t revision = session.revision();
    EXPECT_TRUE(session.apply(session.now(), edit_label));
    EXPECT_FALSE(session.can_undo());
    EXPECT_FALSE(session.unsaved());
    EXPECT_EQ(session.revision(), revision);
    EXPECT_TRUE(heard.changed.empty());
    EXPECT_EQ(heard.tried + heard.file_changed, 0);
}

TEST(Session, BlocksInAnotherOrderAreAChange) {
    Session session({});
    session.open(with_block(with_block(setup::example_job(), 5, 5), 10, 10), "", false);
    Job next = session.now();
    std::swap(next.stages[0].placements[0], next.stages[0].placements[1]);
    ASSERT_TRUE(setup::same(next, session.now()));
    EXPECT_TRUE(session.apply(next, edit_label));
    EXPECT_TRUE(session.can_undo());
}

TEST(Session, ARefusedEditSaysWhyAndChangesNothing) {
    Session session({});
    session.open(setup::example_job(), "", false);
    const Listener heard(session);
    EXPECT_FALSE(session.apply(setup::remove(session.now(), session.stage(), setup::PlacementId{999}), edit_label));
    ASSERT_EQ(heard.refused.size(), 1u);
    EXPECT_EQ(heard.refused[0].id, "edit.placement_unknown");
    EXPECT_TRUE(heard.changed.empty());
}

TEST(Session, ATrialIsShownButNotCommitted) {
    Session session({});
    session.open(setup::example_job(), "", false);
    const Listener heard(session);
    const auto committed = session.share();
    const auto trial = std::make_shared<const Job>(with_block(session.now(), 4, 4));
    const std::uint64_t revision = session.revision();
    session.try_out(trial);
    EXPECT_EQ(session.shown(), trial);
    EXPECT_EQ(session.share(), committed);
    EXPECT_GT(session.revision(), revision);
    EXPECT_FALSE(session.unsaved());
    session.try_out(nullptr);
    EXPECT_EQ(session.shown(), committed);
    EXPECT_GT(session.revision(), revision + 1);
    EXPECT_EQ(heard.tried, 2);
    EXPECT_TRUE(heard.changed.empty());
}

TEST(Session, ACommitEndsTheTrialAndSaysSo) {
    Session session({});
    session.open(setup::example_job(), "", false);
    const Listener heard(session);
    session.try_out(std::make_shared<const Job>(with_block(session.now(), 4, 4)));
    EXPECT_TRUE(session.apply(with_block(session.now(), 6, 6), edit_label));
    EXPECT_EQ(session.shown(), session.share());
    EXPECT_EQ(heard.changed.size(), 1u);
    EXPECT_EQ(heard.tried, 2);
}

TEST(Session, PuttingABlockBackWhereItStoodEndsTheTrialWithoutAStep) {
    Session session({});
    session.open(setup::example_job(), "", false);
    session.try_out(std::make_shared<const Job>(with_block(session.now(), 4, 4)));
    EXPECT_TRUE(session.apply(session.now(), edit_label));
    EXPECT_EQ(session.shown(), session.share());
    EXPECT_FALSE(session.can_undo());
}

TEST(Session, WhatIsGoneIsNoLongerSelected) {
    Session session({});
    session.open(setup::example_job(), "", false);
    session.apply(with_block(session.now(), 5, 5), edit_label);
    const setup::PlacementId block = session.in_stage().placements[0].id;
    session.select({{block}, {setup::PieceId{1}, setup::PieceId{77}}, setup::SeamId{1}});
    EXPECT_EQ(session.selection(), (Selection{{block}, {setup::PieceId{1}}, setup::SeamId{1}}));
    const Listener heard(session);
    session.undo();
    EXPECT_EQ(session.selection(), (Selection{{}, {setup::PieceId{1}}, setup::SeamId{1}}));
    EXPECT_EQ(heard.selection_changed, 1);
    session.redo();
    EXPECT_EQ(heard.selection_changed, 1);
}

TEST(Session, TheFirstStageIsWorkedOnWhenTheOwnOneVanishes) {
    Session session({});
    session.open(setup::example_job(), "", false);
    const setup::StageId first = session.stage();
    ASSERT_TRUE(session.apply(setup::add_stage(session.now(), "on its side"), edit_label));
    session.go_to_stage(session.now().stages[1].id);
    EXPECT_NE(session.stage(), first);
    const Listener heard(session);
    session.undo();
    EXPECT_EQ(session.stage(), first);
    EXPECT_EQ(heard.stage_changed, 1);
}

TEST(Session, UndoAndRedoAreNamedAfterTheEdits) {
    Session session({});
    session.open(setup::example_job(), "", false);
    EXPECT_TRUE(session.undo_label().empty());
    session.apply(with_notes(session.now(), "a"), {"first", {}});
    session.apply(with_notes(session.now(), "b"), {"second", {}});
    EXPECT_EQ(session.undo_label().id, "second");
    EXPECT_TRUE(session.redo_label().empty());
    session.undo();
    EXPECT_EQ(session.undo_label().id, "first");
    EXPECT_EQ(session.redo_label().id, "second");
    session.apply(with_notes(session.now(), "c"), {"third", {}});
    EXPECT_EQ(session.undo_label().id, "third");
    EXPECT_FALSE(session.can_redo());
}

TEST(Session, WhatWentIntoTheFileIsSavedAlsoWhenReachedByUndo) {
    Session session({});
    session.open(setup::example_job(), "", true);
    EXPECT_TRUE(session.unsaved());
    const auto written = session.share();
    session.apply(with_notes(session.now(), "while it was being written"), edit_label);
    session.saved_as("/x/job.setwright", written);
    EXPECT_EQ(session.path(), "/x/job.setwright");
    EXPECT_TRUE(session.unsaved());
    const Listener heard(session);
    session.undo();
    EXPECT_FALSE(session.unsaved());
    EXPECT_EQ(heard.file_changed, 1);
}

TEST(Session, AnotherJobStartsAfresh) {
    Session session({});
    session.open(setup::example_job(), "/x/a.setwright", false);
    session.apply(with_block(session.now(), 5, 5), edit_label);
    session.select({{session.in_stage().placements[0].id}, {}, {}});
    session.try_out(std::make_shared<const Job>(with_block(session.now(), 4, 4)));
    const Listener heard(session);
    session.open(setup::example_job(), "/x/b.setwright", false);
    EXPECT_EQ(heard.opened, 1);
    EXPECT_FALSE(session.can_undo());
    EXPECT_TRUE(session.selection().empty());
    EXPECT_EQ(session.shown(), session.share());
    EXPECT_EQ(session.path(), "/x/b.setwright");
    EXPECT_FALSE(session.unsaved());
}

TEST(Session, CalloutsMayTakeThePackersOfTheCatalogue) {
    auto catalogue = shop::load_catalogue(base::resource_dir() + "/catalogue");
    ASSERT_TRUE(catalogue.ok());
    Session session(*catalogue);
    session.open(setup::example_job(), "", false);
    EXPECT_TRUE(session.now().components.empty());
    EXPECT_FALSE(session.knowing()->components.empty());
    EXPECT_EQ(session.knowing(), session.knowing());
    session.apply(with_notes(session.now(), "other"), edit_label);
    EXPECT_EQ(session.knowing()->notes, "other");
}

}  // namespace
}  // namespace setwright::app

int main(int argc, char** argv) {
    testing::InitGoogleTest(&argc, argv);
    return RUN_ALL_TESTS();
}
