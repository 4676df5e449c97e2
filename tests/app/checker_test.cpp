#include "app/checker.h"

#include <gtest/gtest.h>

#include <QCoreApplication>
#include <QElapsedTimer>
#include <QThread>
#include <algorithm>

#include "core/base/file.h"
#include "core/check/report_json.h"
#include "core/setup/edit.h"
#include "core/setup/job_file.h"

namespace setwright::app {
namespace {

constexpr int patience_milliseconds = 120000;

template <class Condition>
bool wait_for(Condition holds) {
    QElapsedTimer waited;
    waited.start();
    while (!holds() && waited.elapsed() < patience_milliseconds)
        QCoreApplication::processEvents(QEventLoop::WaitForMoreEvents | QEventLoop::AllEvents, 50);
    return holds();
}

/// The grinder stand of the samples, read once.
const setup::Setup& sample() {
    static const setup::Setup job = [] {
        auto opened = setup::open_job(SETWRIGHT_SAMPLES_DIR "/D1.setwright");
        EXPECT_TRUE(opened.ok()) << (opened.ok() ? "" : opened.error().text.id);
        return std::move(opened)->setup;
    }();
    return job;
}

TEST(Checker, SaysWhatTheChecksSay) {
    Session session({});
    Checker checker(session);
    EXPECT_FALSE(checker.is_current());
    session.open(sample(), "", false);
    ASSERT_TRUE(wait_for([&] { return checker.is_current(); }));
    EXPECT_EQ(checker.checked(), session.share());
    const base::TextCatalogue texts = base::TextCatalogue::load(base::resource_dir() + "/translations/en");
    EXPECT_EQ(check::report_json(session.now(), *checker.report(), texts),
              check::report_json(session.now(), check::check(session.now()), texts));
    ASSERT_NE(checker.of_stage(session.stage()), nullptr);
    EXPECT_EQ(checker.of_stage(session.stage())->posed.size(), session.in_stage().placements.size());
    EXPECT_EQ(checker.of_stage(setup::StageId{999}), nullptr);
}

TEST(Checker, OnlyTheNewestQuestionOfABurstIsAnswered) {
    Session session({});
    session.open(sample(), "", false);
    Checker checker(session);
    int reported = 0, started = 0;
    QObject::connect(&checker, &Checker::reported, [&] {
        ++reported;
        EXPECT_TRUE(checker.is_current());
    });
    QObject::connect(&checker, &Checker::started, [&] { ++started; });
    std::shared_ptr<const setup::Setup> last;
    std::vector<std::weak_ptr<const setup::Setup>> older;
    for (int i = 0; i < 30; ++i) {
        if (last) older.push_back(last);
        last = std::make_shared<const setup::Setup>(setup::set_notes(session.now(), std::to_string(i)));
        session.try_out(last);
    }
    // None waits for its turn: but for the one being stopped, the overtaken are let go.
    EXPECT_LE(std::count_if(older.begin(), older.end(), [](const auto& setup) { return !setup.expired(); }), 1);
    ASSERT_TRUE(wait_for([&] { return checker.is_current(); }));
    EXPECT_EQ(checker.checked(), last);
    EXPECT_EQ(reported, 1);
    EXPECT_EQ(started, 30);
    // Nothing comes late.
    QElapsedTimer waited;
    waited.start();
    wait_for([&waited] { return waited.elapsed() > 300; });
    EXPECT_EQ(reported, 1);
}

TEST(Checker, AnAnswerThatWasOvertakenOnItsWayIsDropped) {
    Session session({});
    session.open(sample(), "", false);
    Checker checker(session);
    // The first answer is made while nobody looks at the queue, and then is too old.
    QThread::msleep(3000);
    session.try_out(std::make_shared<const setup::Setup>(setup::set_notes(session.now(), "newer")));
    bool older_came = false;
    QObject::connect(&checker, &Checker::reported, [&] { older_came |= checker.checked()->notes != "newer"; });
    ASSERT_TRUE(wait_for([&] { return checker.report() != nullptr; }));
    EXPECT_FALSE(older_came);
    EXPECT_EQ(checker.checked()->notes, "newer");
}

TEST(Checker, TheReportOfAnotherJobIsNotKept) {
    Session session({});
    session.open(sample(), "", false);
    Checker checker(session);
    ASSERT_TRUE(wait_for([&] { return checker.is_current(); }));
    session.open(sample(), "", false);
    EXPECT_EQ(checker.report(), nullptr);
    EXPECT_FALSE(checker.is_current());
    EXPECT_TRUE(wait_for([&] { return checker.is_current(); }));
}

TEST(Checker, EndsAtOnceInTheMiddleOfACheck) {
    Session session({});
    session.open(sample(), "", false);
    QElapsedTimer whole;
    whole.start();
    check::check(session.now());
    const qint64 one_check = whole.elapsed();
    auto checker = std::make_unique<Checker>(session);
    QThread::msleep(20);
    QElapsedTimer ending;
    ending.start();
    checker.reset();
    EXPECT_LT(ending.elapsed(), std::max<qint64>(one_check, 500));
}

}  // namespace
}  // namespace setwright::app

int main(int argc, char** argv) {
    testing::InitGoogleTest(&argc, argv);
    qputenv("SETWRIGHT_WORKER", SETWRIGHT_WORKER);
    QCoreApplication application(argc, argv);
    return RUN_ALL_TESTS();
}
