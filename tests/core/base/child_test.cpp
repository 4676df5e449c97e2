#include "core/base/child.h"

#include <gtest/gtest.h>

#include <csignal>
#include <filesystem>
#include <thread>

namespace setwright::base {
namespace {

using namespace std::chrono_literals;
using Clock = std::chrono::steady_clock;

// Far below the sleeps that are cut short, far above a busy machine's delays.
constexpr auto soon = 10s;

Result<ChildRun> shell(const std::string& script, std::chrono::milliseconds wall = 60s, const Progress& job = {},
                       std::size_t output_limit = 1 << 20) {
    return run_child("/bin/sh", {"-c", script}, wall, job, output_limit);
}

TEST(RunChild, GivesOutputMessagesAndExitCode) {
    const auto run = shell("printf 'out'; printf 'note' >&2; exit 7");
    ASSERT_TRUE(run.ok());
    EXPECT_EQ(run->exit_code, 7);
    EXPECT_EQ(run->signal, 0);
    EXPECT_EQ(run->output, "out");
    EXPECT_EQ(run->messages, "note");
    EXPECT_FALSE(run->timed_out || run->cancelled);
}

TEST(RunChild, PassesArgumentsUntouched) {
    const auto run = run_child("/bin/echo", {"a b", "$HOME", "'", "*"}, 60s);
    ASSERT_TRUE(run.ok());
    EXPECT_EQ(run->output, "a b $HOME ' *\n");
}

TEST(RunChild, GivesItAnEmptyStandardInput) {
    const auto run = run_child("/bin/cat", {}, 60s);
    ASSERT_TRUE(run.ok());
    EXPECT_EQ(run->exit_code, 0);
    EXPECT_EQ(run->output, "");
}

TEST(RunChild, TakesMuchOutputOnBothStreams) {
    const auto run = shell("head -c 3000000 /dev/zero >&2; head -c 3000000 /dev/zero; head -c 1000 /dev/zero >&2", 60s,
                           {}, 4'000'000);
    ASSERT_TRUE(run.ok());
    EXPECT_EQ(run->exit_code, 0);
    EXPECT_EQ(run->output.size(), 3'000'000u);
    EXPECT_LE(run->messages.size(), 8192u);
}

TEST(RunChild, SaysWhichSignalEndedIt) {
    const auto run = shell("kill -SEGV $$");
    ASSERT_TRUE(run.ok());
    EXPECT_EQ(run->exit_code, -1);
    EXPECT_EQ(run->signal, SIGSEGV);
}

TEST(RunChild, IsKilledWhenTheTimeIsOver) {
    const auto start = Clock::now();
    const auto run = shell("printf begun; sleep 300", 200ms);
    ASSERT_TRUE(run.ok());
    EXPECT_TRUE(run->timed_out);
    EXPECT_FALSE(run->cancelled);
    EXPECT_EQ(run->exit_code, -1);
    EXPECT_EQ(run->output, "begun");
    EXPECT_LT(Clock::now() - start, soon);
}

TEST(RunChild, IsKilledWithItsGroupEvenWhenItClosedItsStreams) {
    const auto start = Clock::now();
    const auto run = shell("sleep 300 & wait", 200ms);
    ASSERT_TRUE(run.ok());
    EXPECT_TRUE(run->timed_out);
    const auto quiet = shell("exec >&- 2>&-; sleep 300", 200ms);
    ASSERT_TRUE(quiet.ok());
    EXPECT_TRUE(quiet->timed_out);
    EXPECT_LT(Clock::now() - start, soon);
}

TEST(RunChild, DoesNotWaitForWhatItLeftBehind) {
    const auto start = Clock::now();
    const auto run = shell("sleep 300 & printf done");
    ASSERT_TRUE(run.ok());
    EXPECT_EQ(run->exit_code, 0);
    EXPECT_EQ(run->output, "done");
    EXPECT_LT(Clock::now() - start, soon);
}

TEST(RunChild, IsKilledWhenCancelled) {
    const Progress job;
    std::thread canceller([&] {
        std::this_thread::sleep_for(100ms);
        job.cancel();
    });
    const auto start = Clock::now();
    const auto run = shell("sleep 300", 60s, job);
    canceller.join();
    ASSERT_TRUE(run.ok());
    EXPECT_TRUE(run->cancelled);
    EXPECT_FALSE(run->timed_out);
    EXPECT_LT(Clock::now() - start, soon);
}

TEST(RunChild, IsKilledWhenItPrintsTooMuch) {
    const auto start = Clock::now();
    const auto run = run_child("/bin/cat", {"/dev/zero"}, 60s, {}, 1 << 20);
    ASSERT_TRUE(run.ok());
    EXPECT_EQ(run->exit_code, -1);
    EXPECT_EQ(run->signal, SIGKILL);
    EXPECT_GT(run->output.size(), 1u << 20);
    EXPECT_LT(Clock::now() - start, soon);
}

TEST(RunChild, FailsWhereThereIsNoSuchProgram) {
    const auto run = run_child("/nowhere/program", {}, 60s);
    ASSERT_FALSE(run.ok());
    EXPECT_EQ(run.error().text.id, "child.cannot_start");
}

TEST(RunChild, LeavesNoDescriptorsOpen) {
    const auto open_files = [] {
        const std::filesystem::directory_iterator files("/proc/self/fd");
        return std::distance(begin(files), end(files));
    };
    const auto before = open_files();
    for (int round = 0; round < 20; ++round) ASSERT_TRUE(shell("true").ok());
    EXPECT_EQ(open_files(), before);
}

}  // namespace
}  // namespace setwright::base
