#include "app/autosave.h"

#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <QCoreApplication>
#include <QElapsedTimer>
#include <QTemporaryDir>
#include <QThread>
#include <cstring>
#include <filesystem>

#include "core/base/bug.h"
#include "core/base/child.h"
#include "tests/core/setup/example.h"

namespace setwright::app {
namespace {

using setup::Job;

constexpr int patience_milliseconds = 60000;
const base::Text edit_label{"edit.number", {{"no", "x"}}};

template <class Condition>
bool wait_for(Condition holds, int milliseconds = patience_milliseconds) {
    QElapsedTimer waited;
    waited.start();
    while (!holds() && waited.elapsed() < milliseconds) {
        QCoreApplication::processEvents();
        QThread::msleep(5);
    }
    return holds();
}

/// Plays the program in a process of its own: opens the example, notes "edit", and ends as told.
int play(const std::string& folder, const std::string& ending) {
    Session session({});
    Autosave autosave(session, folder);
    session.open(setup::example_job(), "/home/x/frame.setwright", false);
    session.apply(setup::set_notes(session.now(), "before"), edit_label);
    if (ending == "killed") {
        bool written = false;
        QObject::connect(&autosave, &Autosave::written, [&written] { written = true; });
        if (!wait_for([&written] { return written; })) return 5;
        ::raise(SIGKILL);
    }
    if (ending == "bug") SETWRIGHT_ASSERT(session.now().notes.empty(), "a mistake on purpose");
    if (ending == "kept") autosave.keep();
    if (ending == "closed") autosave.close();
    return 0;
}

std::string own_program() {
    return std::filesystem::read_symlink("/proc/self/exe").string();
}

base::ChildRun run_program(const std::string& folder, const std::string& ending) {
    auto run = base::run_child(own_program(), {"--play", folder, ending}, std::chrono::seconds(60));
    EXPECT_TRUE(run.ok());
    return *run;
}

std::size_t files_in(const QTemporaryDir& folder) {
    return static_cast<std::size_t>(
        std::distance(std::filesystem::directory_iterator(folder.path().toStdString()), {}));
}

/// Reads what was left and compares it with what the program had open.
void expect_found(const Autosave& autosave) {
    const std::vector<LeftBehind> left = autosave.left_behind();
    ASSERT_EQ(left.size(), 1u);
    EXPECT_EQ(left[0].path, "/home/x/frame.setwright");
    EXPECT_EQ(left[0].when.size(), std::strlen("2026-11-25 14:05"));
    const auto text = base::read_file(left[0].file);
    ASSERT_TRUE(text.ok());
    const auto job = setup::parse_job(*text, left[0].file);
    ASSERT_TRUE(job.ok()) << job.error().text.id;
    EXPECT_TRUE(setup::same(job->setup, setup::set_notes(setup::example_job(), "before")));
}

TEST(Autosave, AJobThatWasOpenWhenTheProgramWasKilledIsFound) {
    const QTemporaryDir folder;
    const auto run = run_program(folder.path().toStdString(), "killed");
    EXPECT_EQ(run.signal, SIGKILL);
    Session session({});
    Autosave autosave(session, folder.path().toStdString());
    expect_found(autosave);
    autosave.forget(autosave.left_behind()[0]);
    EXPECT_TRUE(autosave.left_behind().empty());
    EXPECT_EQ(files_in(folder), 0u);
}

TEST(Autosave, AMistakeOfOursSavesTheJobBeforeTheProgramEnds) {
    const QTemporaryDir folder;
    const auto run = run_program(folder.path().toStdString(), "bug");
    EXPECT_EQ(run.exit_code, 3);
    Session session({});
    expect_found(Autosave(session, folder.path().toStdString()));
}

TEST(Autosave, AProgramToldToEndLeavesTheJobAndOneThatWasClosedDoesNot) {
    const QTemporaryDir folder;
    Session session({});
    const Autosave autosave(session, folder.path().toStdString());
    EXPECT_EQ(run_program(folder.path().toStdString(), "closed").exit_code, 0);
    EXPECT_EQ(files_in(folder), 0u);
    EXPECT_EQ(run_program(folder.path().toStdString(), "kept").exit_code, 0);
    expect_found(autosave);
}

TEST(Autosave, WritesASecondAfterTheLastChangeAndFiveAfterTheFirst) {
    const QTemporaryDir folder;
    Session session({});
    Autosave autosave(session, folder.path().toStdString());
    int written = 0;
    QObject::connect(&autosave, &Autosave::written, [&] { ++written; });
    session.open(setup::example_job(), "", false);
    QElapsedTimer since;
    since.start();
    session.apply(setup::set_notes(session.now(), "one"), edit_label);
    ASSERT_TRUE(wait_for([&] { return written == 1; }));
    EXPECT_GE(since.elapsed(), 990);
    EXPECT_EQ(files_in(folder), 2u);
    // Edits that never pause are written all the same.
    since.start();
    for (int i = 0; written == 1 && since.elapsed() < 20000; ++i) {
        session.apply(setup::set_notes(session.now(), std::to_string(i)), edit_label);
        wait_for([&] { return written == 2; }, 200);
    }
    EXPECT_EQ(written, 2);
    EXPECT_GE(since.elapsed(), 4000);
    EXPECT_LT(since.elapsed(), 10000);
}

TEST(Autosave, OwnFileIsNotLeftBehindAndGoesWhenTheJobIsSaved) {
    const QTemporaryDir folder;
    Session session({});
    Autosave autosave(session, folder.path().toStdString());
    int written = 0;
    QObject::connect(&autosave, &Autosave::written, [&] { ++written; });
    session.open(setup::example_job(), "", true);
    ASSERT_TRUE(wait_for([&] { return written == 1; }));
    EXPECT_EQ(files_in(folder), 2u);
    EXPECT_TRUE(autosave.left_behind().empty());
    session.saved_as("/x.setwright", session.share());
    EXPECT_EQ(files_in(folder), 0u);
    session.apply(setup::set_notes(session.now(), "more"), edit_label);
    ASSERT_TRUE(wait_for([&] { return written == 2; }));
    session.undo();
    EXPECT_EQ(files_in(folder), 0u);
}

TEST(Autosave, AnotherProgramWithTheSameNumberIsNotTakenForTheOneThatCrashed) {
    const QTemporaryDir folder;
    // Ours is alive under this number, but began at another time.
    const std::string file = folder.path().toStdString() + "/job-" + std::to_string(::getpid()) + "-1.setwright";
    ASSERT_TRUE(base::write_file(file, setup::job_json(setup::example_job())).ok());
    Session session({});
    const Autosave autosave(session, folder.path().toStdString());
    ASSERT_EQ(autosave.left_behind().size(), 1u);
    EXPECT_EQ(autosave.left_behind()[0], (LeftBehind{file, "", ""}));
}

TEST(Autosave, ARecoveredJobIsAdopted) {
    const QTemporaryDir folder;
    run_program(folder.path().toStdString(), "kept");
    Session session({});
    Autosave autosave(session, folder.path().toStdString());
    const LeftBehind left = autosave.left_behind().at(0);
    session.open(setup::set_notes(setup::example_job(), "before"), left.path, true);
    autosave.adopt(left);
    EXPECT_TRUE(autosave.left_behind().empty());
    EXPECT_EQ(files_in(folder), 2u);
    autosave.close();
    EXPECT_EQ(files_in(folder), 0u);
}

TEST(Autosave, AFolderThatCannotBeWrittenIsSaidOnce) {
    const QTemporaryDir folder;
    const std::string blocked = folder.path().toStdString() + "/file/autosave";
    ASSERT_TRUE(base::write_file(folder.path().toStdString() + "/file", "in the way").ok());
    Session session({});
    Autosave autosave(session, blocked);
    int said = 0;
    QObject::connect(&session, &Session::refused, [&](const base::Text& text) {
        ++said;
        EXPECT_EQ(text.id, "file.autosave_failed");
    });
    session.open(setup::example_job(), "", true);
    ASSERT_TRUE(wait_for([&] { return said == 1; }));
    session.apply(setup::set_notes(session.now(), "more"), edit_label);
    EXPECT_FALSE(wait_for([&] { return said == 2; }, 2500));
}

}  // namespace
}  // namespace setwright::app

int main(int argc, char** argv) {
    QCoreApplication application(argc, argv);
    if (argc == 4 && std::string(argv[1]) == "--play") return setwright::app::play(argv[2], argv[3]);
    testing::InitGoogleTest(&argc, argv);
    return RUN_ALL_TESTS();
}
