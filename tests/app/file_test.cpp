#include <gtest/gtest.h>

#include <QApplication>
#include <QComboBox>
#include <QElapsedTimer>
#include <QFile>
#include <QFileDialog>
#include <QLabel>
#include <QListWidget>
#include <QPushButton>
#include <QSettings>
#include <QTemporaryDir>
#include <QTimer>
#include <deque>
#include <filesystem>
#include <functional>

#include "app/actions/close_job.h"
#include "app/actions/new_job.h"
#include "app/actions/open_job.h"
#include "app/actions/save_job.h"
#include "app/recent.h"
#include "core/base/file.h"
#include "core/setup/edit.h"
#include "core/setup/job_file.h"
#include "viewer/scene.h"

namespace setwright::app {
namespace {

const base::Text edit_label{"edit.number", {{"no", "x"}}};
const QString samples = QStringLiteral(SETWRIGHT_SAMPLES_DIR);

/// The program without its window, and a person who answers what it asks, in the order given.
class Files : public testing::Test {
  protected:
    Files() : session_({}), checker_(session_) {
        QSettings().clear();
        QObject::connect(&session_, &Session::said, [this](const base::Text& text) { said_.push_back(text.id); });
        QObject::connect(&hand_, &QTimer::timeout, [this] { act(); });
        hand_.start(20);
    }

    /// When the dialog of this name is in front, does this to it.
    void when(const QString& dialog, std::function<void(QDialog&)> act) { plan_.emplace_back(dialog, std::move(act)); }
    static void press(QDialog& dialog, const QString& button) {
        auto* found = dialog.findChild<QPushButton*>(button);
        ASSERT_NE(found, nullptr) << button.toStdString();
        ASSERT_TRUE(found->isEnabled()) << button.toStdString();
        found->click();
    }
    void press_when(const QString& dialog, const QString& button) {
        when(dialog, [button](QDialog& d) { press(d, button); });
    }
    void choose_when(const QString& dialog, const QString& path) {
        when(dialog, [path](QDialog& d) {
            auto& files = dynamic_cast<QFileDialog&>(d);
            files.selectFile(path);
            files.findChild<QWidget*>("fileNameEdit")->setProperty("text", path);
            QMetaObject::invokeMethod(&files, "accept");
        });
    }
    /// All that was foreseen has been asked.
    bool all_asked() const { return plan_.empty(); }

    QString path(const QString& name) const { return folder_.filePath(name); }
    QString copy_of(const QString& sample) const {
        QFile::copy(samples + "/" + sample, path(sample));
        return path(sample);
    }
    void open_sample() {
        open_path(desk_, &window_, copy_of("D1.setwright"));
        dismiss_remarks();
        ASSERT_TRUE(session_.has_job());
    }
    void dismiss_remarks() {
        if (auto* remarks = window_.findChild<QDialog*>("file.remarks")) remarks->close();
    }
    void change() { session_.apply(setup::set_notes(session_.now(), session_.now().notes + "more"), edit_label); }

    QTemporaryDir folder_;
    Words words_{base::TextCatalogue::load(base::resource_dir() + "/translations/en")};
    Icons icons_{Qt::black};
    viewer::ShapeBook shapes_;
    Session session_;
    Checker checker_;
    QWidget window_;
    Desk desk_{session_, checker_, words_, icons_, shapes_};
    std::vector<std::string> said_;

  private:
    void act() {
        auto* dialog = qobject_cast<QDialog*>(QApplication::activeModalWidget());
        if (!dialog) return;
        if (!plan_.empty() && dialog->objectName() == plan_.front().first) {
            const auto act = std::move(plan_.front().second);
            plan_.pop_front();
            act(*dialog);
        } else if (dialog != unforeseen_) {
            unforeseen_ = dialog;
            since_.start();
        } else if (dialog->objectName() != "file.waiting" && since_.elapsed() > 5000) {
            // What nobody foresaw must not hang the test.
            ADD_FAILURE() << "not foreseen: " << dialog->objectName().toStdString();
            dialog->done(0);
        }
    }

    QTimer hand_;
    QElapsedTimer since_;
    QDialog* unforeseen_ = nullptr;
    std::deque<std::pair<QString, std::function<void(QDialog&)>>> plan_;
};

TEST_F(Files, AJobIsOpenedAndSavedByteForByte) {
    const QString file = copy_of("D1.setwright");
    const auto before = base::read_file(file.toStdString());
    open_path(desk_, &window_, file);
    dismiss_remarks();
    ASSERT_TRUE(session_.has_job());
    EXPECT_EQ(session_.path(), file.toStdString());
    EXPECT_FALSE(session_.unsaved());
    EXPECT_TRUE(save_job(desk_, &window_));
    EXPECT_EQ(*base::read_file(file.toStdString()), *before);
    EXPECT_EQ(said_.back(), "file.saved");
    EXPECT_EQ(recent_files(), QStringList{file});
}

TEST_F(Files, AStepFileBecomesAJobOnTheTableThatWasChosen) {
    when("new_job", [](QDialog& d) {
        auto* table = d.findChild<QComboBox*>("new_job.table");
        auto* shelf = d.findChild<QComboBox*>("new_job.shelf");
        EXPECT_EQ(table->count(), 5);
        const int inch = table->findText("Table 2 in", Qt::MatchStartsWith);
        table->setCurrentIndex(inch);
        Q_EMIT table->activated(inch);
        EXPECT_EQ(d.findChild<QComboBox*>("new_job.unit")->currentText(), "inches");
        EXPECT_TRUE(shelf->currentText().startsWith("Starter shelf 2 in")) << shelf->currentText().toStdString();
        press(d, "new_job.start");
    });
    open_path(desk_, &window_, samples + "/D1.step");
    dismiss_remarks();
    EXPECT_TRUE(all_asked());
    ASSERT_TRUE(session_.has_job());
    EXPECT_EQ(session_.now().table.id, "grid2in");
    EXPECT_EQ(session_.now().shelf.id, shop::load_shelf(base::resource_dir() + "/shelves/grid2in-starter.json")->id);
    EXPECT_EQ(session_.now().display.unit.unit, base::LengthUnit::inch);
    EXPECT_TRUE(session_.unsaved());
    EXPECT_EQ(session_.path(), "");
    const auto read = setup::import_step(SETWRIGHT_SAMPLES_DIR "/D1.step");
    ASSERT_TRUE(read.ok());
    EXPECT_EQ(session_.in_stage().pieces.size(), read->model->pieces.size());
}

TEST_F(Files, ANewJobIsSavedUnderANameWithTheEndingOfJobs) {
    press_when("new_job", "new_job.start");
    open_path(desk_, &window_, samples + "/D1.step");
    dismiss_remarks();
    choose_when("file.save_dialog", path("stand"));
    EXPECT_TRUE(save_job(desk_, &window_));
    EXPECT_TRUE(all_asked());
    EXPECT_EQ(session_.path(), path("stand.setwright").toStdString());
    EXPECT_FALSE(session_.unsaved());
    const auto again = setup::open_job(session_.path());
    ASSERT_TRUE(again.ok());
    EXPECT_TRUE(setup::same(again->setup, session_.now()));
}

TEST_F(Files, AnotherFileIsOnlyWrittenOverWhenTheUserSaysSo) {
    open_sample();
    change();
    ASSERT_TRUE(base::write_file(path("other.setwright").toStdString(), "mine").ok());
    choose_when("file.save_dialog", path("other.setwright"));
    press_when("file.overwrite", "file.overwrite.no");
    choose_when("file.save_dialog", path("third"));
    EXPECT_TRUE(save_job_as(desk_, &window_));
    EXPECT_TRUE(all_asked());
    EXPECT_EQ(*base::read_file(path("other.setwright").toStdString()), "mine");
    EXPECT_EQ(session_.path(), path("third.setwright").toStdString());

    choose_when("file.save_dialog", path("other.setwright"));
    press_when("file.overwrite", "file.overwrite.yes");
    EXPECT_TRUE(save_job_as(desk_, &window_));
    EXPECT_NE(*base::read_file(path("other.setwright").toStdString()), "mine");
}

TEST_F(Files, SavingWhereItCannotBeSaysWhyAndLosesNothing) {
    open_sample();
    change();
    std::filesystem::create_directories(path("folder.setwright/x").toStdString());
    session_.saved_as(path("folder.setwright").toStdString(), nullptr);
    press_when("file.sentence", "file.sentence.understood");
    EXPECT_FALSE(save_job(desk_, &window_));
    EXPECT_TRUE(all_asked());
    EXPECT_TRUE(session_.unsaved());
}

TEST_F(Files, ADamagedJobOrModelIsRefusedAndTheOpenJobStays) {
    open_sample();
    const auto open = session_.share();
    ASSERT_TRUE(base::write_file(path("bad.setwright").toStdString(), "{\"format\": \"setwright-job\", ").ok());
    ASSERT_TRUE(base::write_file(path("bad.step").toStdString(), "ISO-10303-21;\nnonsense").ok());
    ASSERT_TRUE(base::write_file(path("text.txt").toStdString(), "hello").ok());
    for (const char* name : {"bad.setwright", "text.txt", "not-there.setwright"}) {
        press_when("file.sentence", "file.sentence.understood");
        open_path(desk_, &window_, path(name));
        EXPECT_TRUE(all_asked()) << name;
        EXPECT_EQ(session_.share(), open);
    }
    press_when("new_job", "new_job.start");
    when("file.sentence", [](QDialog& d) {
        auto* label = d.findChild<QLabel*>("qt_msgbox_label");
        EXPECT_TRUE(label->text().contains("bad.step")) << label->text().toStdString();
        press(d, "file.sentence.understood");
    });
    open_path(desk_, &window_, path("bad.step"));
    EXPECT_TRUE(all_asked());
    EXPECT_EQ(session_.share(), open);
}

TEST_F(Files, AJobWithoutAnyStageIsRefused) {
    auto job = setup::open_job(SETWRIGHT_SAMPLES_DIR "/D1.setwright");
    ASSERT_TRUE(job.ok());
    job->setup.stages.clear();
    job->setup.accepted.clear();
    job->setup.components.clear();
    ASSERT_TRUE(base::write_file(path("none.setwright").toStdString(), setup::job_json(job->setup)).ok());
    press_when("file.sentence", "file.sentence.understood");
    open_path(desk_, &window_, path("none.setwright"));
    EXPECT_TRUE(all_asked());
    EXPECT_FALSE(session_.has_job());
}

TEST_F(Files, UnsavedChangesAreAskedAbout) {
    EXPECT_TRUE(may_close_job(desk_, &window_));
    open_sample();
    EXPECT_TRUE(may_close_job(desk_, &window_));
    change();
    press_when("file.unsaved", "file.unsaved.cancel");
    EXPECT_FALSE(may_close_job(desk_, &window_));
    EXPECT_TRUE(session_.unsaved());
    press_when("file.unsaved", "file.unsaved.drop");
    EXPECT_TRUE(may_close_job(desk_, &window_));
    EXPECT_TRUE(session_.unsaved());
    press_when("file.unsaved", "file.unsaved.save");
    EXPECT_TRUE(may_close_job(desk_, &window_));
    EXPECT_TRUE(all_asked());
    EXPECT_FALSE(session_.unsaved());
    EXPECT_EQ(setup::open_job(session_.path())->setup.notes, session_.now().notes);
}

TEST_F(Files, KeepingAnUnsavedJobOpensNoOther) {
    open_sample();
    change();
    const auto open = session_.share();
    press_when("file.unsaved", "file.unsaved.cancel");
    open_path(desk_, &window_, copy_of("D2.setwright"));
    EXPECT_TRUE(all_asked());
    EXPECT_EQ(session_.share(), open);
}

TEST_F(Files, ReadingIsCancelledAtOnceAndTheOpenJobStays) {
    open_sample();
    const auto open = session_.share();
    // A reader that takes longer than anybody waits.
    const std::string slow = path("slow").toStdString();
    ASSERT_TRUE(base::write_file(slow, "#!/bin/sh\nsleep 30\n").ok());
    std::filesystem::permissions(slow, std::filesystem::perms::owner_all);
    const QByteArray worker = qgetenv("SETWRIGHT_WORKER");
    qputenv("SETWRIGHT_WORKER", QByteArray::fromStdString(slow));
    QElapsedTimer since;
    when("file.waiting", [&since](QDialog& d) {
        EXPECT_FALSE(d.findChild<QLabel*>("file.waiting.stage")->text().contains("import."));
        since.start();
        press(d, "file.waiting.cancel");
    });
    open_path(desk_, &window_, copy_of("D2.setwright"));
    EXPECT_LT(since.elapsed(), 500);
    qputenv("SETWRIGHT_WORKER", worker);
    EXPECT_TRUE(all_asked());
    EXPECT_EQ(session_.share(), open);
}

TEST_F(Files, WhatIsToBeKnownOfAFileIsListed) {
    auto job = setup::open_job(SETWRIGHT_SAMPLES_DIR "/D1.setwright");
    ASSERT_TRUE(job.ok());
    job->setup.weldments[0].linked_path = path("changed.step").toStdString();
    ASSERT_TRUE(base::write_file(path("changed.step").toStdString(), "other").ok());
    ASSERT_TRUE(setup::save_job(job->setup, path("linked.setwright").toStdString()).ok());
    open_path(desk_, &window_, path("linked.setwright"));
    auto* remarks = window_.findChild<QDialog*>("file.remarks");
    ASSERT_NE(remarks, nullptr);
    auto* list = remarks->findChild<QListWidget*>("file.remarks.list");
    EXPECT_FALSE(list->findItems("changed.step", Qt::MatchContains).isEmpty());
    remarks->close();
}

TEST_F(Files, WhatACrashLeftIsOpenedUnsavedUnderItsOldName) {
    auto job = setup::open_job(SETWRIGHT_SAMPLES_DIR "/D1.setwright");
    ASSERT_TRUE(job.ok());
    Autosave autosave(session_, path("autosave").toStdString());
    // No program has the number 999999999.
    const std::string left = path("autosave/job-999999999-1.setwright").toStdString();
    ASSERT_TRUE(setup::save_job(setup::set_notes(job->setup, "in the crash"), left).ok());
    ASSERT_TRUE(
        base::write_file(left + ".json", "{\"path\": \"/x/stand.setwright\", \"when\": \"2026-11-25 14:05\"}").ok());
    const auto found = autosave.left_behind();
    ASSERT_EQ(found, (std::vector<LeftBehind>{{left, "/x/stand.setwright", "2026-11-25 14:05"}}));
    recover_job(desk_, &window_, autosave, found[0]);
    dismiss_remarks();
    ASSERT_TRUE(session_.has_job());
    EXPECT_EQ(session_.now().notes, "in the crash");
    EXPECT_EQ(session_.path(), "/x/stand.setwright");
    EXPECT_TRUE(session_.unsaved());
    EXPECT_TRUE(autosave.left_behind().empty());
    autosave.close();
}

TEST_F(Files, TenJobsAreRememberedAndMissingOnesLeftOut) {
    for (int i = 0; i < 12; ++i) {
        const QString file = path(QString::number(i) + ".setwright");
        ASSERT_TRUE(base::write_file(file.toStdString(), "x").ok());
        remember_recent(file);
    }
    remember_recent(path("5.setwright"));
    QStringList files = recent_files();
    ASSERT_EQ(files.size(), 10);
    EXPECT_EQ(files[0], path("5.setwright"));
    EXPECT_EQ(files[1], path("11.setwright"));
    EXPECT_EQ(files.count(path("5.setwright")), 1);
    QFile::remove(path("11.setwright"));
    EXPECT_EQ(recent_files().size(), 9);
    QMenu* menu = recent_menu(desk_, &window_);
    Q_EMIT menu->aboutToShow();
    EXPECT_EQ(menu->actions().size(), 9);
    EXPECT_TRUE(menu->actions()[0]->text().contains("5.setwright"));
}

}  // namespace
}  // namespace setwright::app

int main(int argc, char** argv) {
    testing::InitGoogleTest(&argc, argv);
    qputenv("SETWRIGHT_WORKER", SETWRIGHT_WORKER);
    qputenv("QT_QPA_PLATFORM", "offscreen");
    const QTemporaryDir own_settings;
    QSettings::setPath(QSettings::NativeFormat, QSettings::UserScope, own_settings.path());
    QApplication application(argc, argv);
    QApplication::setOrganizationName("setwright");
    QApplication::setApplicationName("setwright-test");
    return RUN_ALL_TESTS();
}
