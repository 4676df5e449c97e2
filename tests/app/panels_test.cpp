#include <gtest/gtest.h>

#include <QAbstractItemView>
#include <QApplication>
#include <QComboBox>
#include <QLabel>
#include <QLineEdit>
#include <QListView>
#include <QPushButton>
#include <QSignalSpy>
#include <QTest>
#include <QToolButton>
#include <QTreeWidget>

#include "app/panels/findings_panel.h"
#include "app/panels/length_edit.h"
#include "app/panels/selected_panel.h"
#include "app/panels/shelf_panel.h"
#include "app/workbench.h"
#include "core/base/file.h"
#include "core/setup/edit.h"
#include "core/setup/job_file.h"

/// The panels beside the view, offscreen, on the grinder stand's job.
namespace setwright::app {

namespace {

/// Inside a test `Setup` is a name of the test framework.
using Job = setup::Setup;

const Job& grinder_stand() {
    static const Job job = [] {
        auto opened = setup::open_job(std::string(SETWRIGHT_SAMPLES_DIR) + "/D1.setwright");
        EXPECT_TRUE(opened.ok());
        return std::move(opened->setup);
    }();
    return job;
}

const shop::Catalogue& catalogue() {
    static const shop::Catalogue all = *shop::load_catalogue(base::resource_dir() + "/catalogue");
    return all;
}

struct Panels {
    Panels() {
        for (QWidget* panel : std::initializer_list<QWidget*>{&shelf, &selected, &findings}) {
            panel->resize(panel == &shelf ? 300 : 320, 560);
            panel->show();
        }
    }
    void open() {
        session.open(grinder_stand(), "", false);
        wait_for_report();
    }
    void wait_for_report() {
        ASSERT_TRUE(QTest::qWaitFor([this] { return checker.is_current(); }, 60000));
        QCoreApplication::processEvents();
    }
    template <class Widget>
    Widget& find(QWidget& in, const char* name) {
        auto* found = in.findChild<Widget*>(name);
        if (!found) qFatal("no widget named %s", name);
        return *found;
    }
    PlacementId block(int no) const {
        for (const setup::Placement& placement : session.in_stage().placements)
            if (placement.no == no) return placement.id;
        return {};
    }
    std::string callout(int no) const {
        const setup::Stage& stage = session.in_stage();
        return setup::callout(session.now(), stage, *stage.find(block(no)));
    }
    PieceId piece(const std::string& name) const {
        for (const PieceId id : session.in_stage().pieces)
            if (session.now().piece_name(id) == name) return id;
        return {};
    }
    void select(PlacementId block) {
        Selection one;
        one.placements.insert(block);
        session.select(one);
    }
    void select(PieceId piece) {
        Selection one;
        one.pieces.insert(piece);
        session.select(one);
    }
    QTreeWidgetItem& shelf_row(const QString& name) {
        auto& list = find<QTreeWidget>(shelf, "shelf.list");
        const QList<QTreeWidgetItem*> rows = list.findItems(name, Qt::MatchExactly | Qt::MatchRecursive);
        if (rows.size() != 1) qFatal("%d rows named %s", static_cast<int>(rows.size()), qPrintable(name));
        return *rows.front();
    }
    QString count_of(const QString& name) { return shelf_row(name).toolTip(0).section('\n', 1); }
    void type(QLineEdit& field, const QString& text) {
        field.setFocus();
        field.selectAll();
        QTest::keyClicks(&field, text);
        QTest::keyClick(&field, Qt::Key_Return);
    }
    QModelIndex row_with(const QString& part) {
        auto& list = find<QListView>(findings, "findings.list");
        for (int i = 0; i < list.model()->rowCount(); ++i)
            if (list.model()->index(i, 0).data().toString().contains(part)) return list.model()->index(i, 0);
        return {};
    }
    void click(const QModelIndex& index) {
        auto& list = find<QListView>(findings, "findings.list");
        list.scrollTo(index);
        QTest::mouseClick(list.viewport(), Qt::LeftButton, {}, list.visualRect(index).center());
    }
    void unfold_all() {
        auto* lines = findings.findChild<FindingLines*>();
        for (const FindingLines::Group group : FindingLines::all_groups) lines->fold(group, false);
    }
    /// Block 4, a rest, runs into the stop beside it.
    void put_a_rest_into_a_stop() {
        select(block(4));
        // The stop is in T3 and takes the room of the hole beside it.
        type(find<QLineEdit>(selected, "selected.callout"), "T4");
        ASSERT_TRUE(callout(4).starts_with("T4"));
        wait_for_report();
    }

    Session session{catalogue()};
    Checker checker{session};
    Words words{base::TextCatalogue::load(base::resource_dir() + "/translations/en")};
    Icons icons{Qt::black};
    viewer::ShapeBook shapes;
    Desk desk{session, checker, words, icons, shapes, Theme::light, nullptr};
    ShelfPanel shelf{desk};
    SelectedPanel selected{desk};
    FindingsPanel findings{desk};
};

TEST(Panels, WithNoJobOpenTheyAreThereAndIdle) {
    Panels p;
    QCoreApplication::processEvents();
    EXPECT_EQ(p.find<QTreeWidget>(p.shelf, "shelf.list").topLevelItemCount(), 0);
    EXPECT_FALSE(p.find<QPushButton>(p.shelf, "shelf.set").isEnabled());
    EXPECT_EQ(p.find<QListView>(p.findings, "findings.list").model()->rowCount(), 0);
    EXPECT_FALSE(p.find<QLabel>(p.selected, "selected.help").text().isEmpty());
}

TEST(Panels, EveryWordTheySayIsInTheCatalogue) {
    const base::TextCatalogue texts = base::TextCatalogue::load(base::resource_dir() + "/translations/en");
    Panels p;
    p.open();
    p.unfold_all();
    const auto check = [&] {
        for (QWidget* panel : std::initializer_list<QWidget*>{&p.shelf, &p.selected, &p.findings})
            for (const QWidget* widget : panel->findChildren<QWidget*>()) {
                EXPECT_FALSE(widget->toolTip().startsWith("panel.")) << widget->toolTip().toStdString();
                const auto* label = qobject_cast<const QLabel*>(widget);
                EXPECT_FALSE(label && label->text().contains("panel.")) << label->text().toStdString();
            }
    };
    check();
    for (const setup::Placement& placement : p.session.in_stage().placements) {
        p.select(placement.id);
        check();
    }
    for (const PieceId piece : p.session.in_stage().pieces) {
        p.select(piece);
        check();
    }
    Selection seam;
    seam.seam = p.session.now().weldments.front().model->seams.front().id;
    p.session.select(seam);
    check();
}

TEST(ShelfPanel, ACalloutTypedSetsTheComponentAndTakesItOffTheShelf) {
    Panels p;
    p.open();
    p.find<QTreeWidget>(p.shelf, "shelf.list").setCurrentItem(&p.shelf_row("rest 60"));
    // The starter shelf of this table owns four of them and the job uses none.
    EXPECT_EQ(p.count_of("rest 60"), "4 left of 4");
    const std::size_t before = p.session.in_stage().placements.size();
    p.type(p.find<QLineEdit>(p.shelf, "shelf.callout"), "b3");
    ASSERT_EQ(p.session.in_stage().placements.size(), before + 1);
    const setup::Placement& set = p.session.in_stage().placements.back();
    EXPECT_EQ(set.component, "m50-rest-60");
    EXPECT_EQ(shop::hole_label(set.seat.hole), "B3");
    EXPECT_TRUE(p.session.selection().placements.contains(set.id));
    EXPECT_EQ(p.count_of("rest 60"), "3 left of 4");
    p.session.undo();
    EXPECT_EQ(p.count_of("rest 60"), "4 left of 4");
}

TEST(ShelfPanel, AWrongCalloutIsAnsweredUnderTheLineAndChangesNothing) {
    Panels p;
    p.open();
    p.find<QTreeWidget>(p.shelf, "shelf.list").setCurrentItem(&p.shelf_row("rest 60"));
    const auto before = p.session.share();
    auto& callout = p.find<QLineEdit>(p.shelf, "shelf.callout");
    p.type(callout, "ZZ99 Q");
    EXPECT_EQ(p.session.share(), before);
    const auto& wrong = p.find<QLabel>(p.shelf, "shelf.wrong");
    EXPECT_TRUE(wrong.isVisible());
    EXPECT_TRUE(wrong.text().contains("ZZ99", Qt::CaseInsensitive)) << wrong.text().toStdString();
    EXPECT_EQ(callout.text(), "ZZ99 Q");
    QTest::keyClick(&callout, Qt::Key_Backspace);
    EXPECT_FALSE(wrong.isVisible());
}

TEST(ShelfPanel, SearchAndWhatIsLeftHideTheRest) {
    Panels p;
    p.open();
    QTest::keyClicks(&p.find<QLineEdit>(p.shelf, "shelf.search"), "REST 60");
    EXPECT_FALSE(p.shelf_row("rest 60").isHidden());
    EXPECT_TRUE(p.shelf_row("rest 50").isHidden());
    EXPECT_TRUE(p.find<QTreeWidget>(p.shelf, "shelf.list").topLevelItem(0)->isHidden());
}

TEST(ShelfPanel, TheTouchButtonTakesThatToolAndAClickTheOneThatPlaces) {
    Panels p;
    Workbench bench(p.desk, true);
    bench.resize(600, 400);
    bench.show();
    p.desk.bench = &bench;
    ShelfPanel shelf(p.desk);
    shelf.resize(300, 560);
    shelf.show();
    p.open();
    auto& list = p.find<QTreeWidget>(shelf, "shelf.list");
    QTreeWidgetItem* row = list.topLevelItem(0)->child(0);
    list.scrollToItem(row);
    QTest::mouseClick(list.viewport(), Qt::LeftButton, {}, list.visualItemRect(row).center());
    EXPECT_EQ(bench.tool().name(), "place");
    auto& touch = p.find<QPushButton>(shelf, "shelf.touch");
    touch.click();
    EXPECT_EQ(bench.tool().name(), "touch");
    touch.click();
    EXPECT_EQ(bench.tool().name(), "select");
    p.desk.bench = nullptr;
}

TEST(SelectedPanel, TheCalloutOfABlockMovesItAndAWrongOneSaysWhy) {
    Panels p;
    p.open();
    p.select(p.block(4));
    auto& callout = p.find<QLineEdit>(p.selected, "selected.callout");
    EXPECT_EQ(callout.text().toStdString(), p.callout(4));
    p.type(callout, "B3");
    EXPECT_TRUE(p.callout(4).starts_with("B3")) << p.callout(4);
    const auto before = p.session.share();
    p.type(callout, "B3 plate 100");
    EXPECT_EQ(p.session.share(), before);
    EXPECT_TRUE(p.find<QLabel>(p.selected, "selected.wrong").isVisible());
    EXPECT_EQ(callout.text(), "B3 plate 100");
}

TEST(SelectedPanel, ButtonsStepMarkTurnAndHole) {
    Panels p;
    p.open();
    p.select(p.block(1));
    const auto mark = [&] { return p.session.in_stage().find(p.block(1))->seat.setting; };
    ASSERT_EQ(mark(), 4);
    p.find<QToolButton>(p.selected, "selected.mark_more").click();
    EXPECT_EQ(mark(), 5);
    EXPECT_EQ(p.find<QLabel>(p.selected, "selected.mark").text(), "5");
    p.session.undo();
    EXPECT_EQ(mark(), 4);
    EXPECT_EQ(p.find<QLabel>(p.selected, "selected.turn").text(), "S");
    p.find<QToolButton>(p.selected, "selected.turn_left").click();
    EXPECT_NE(p.find<QLabel>(p.selected, "selected.turn").text(), "S");
    p.session.undo();
    const int col = p.session.in_stage().find(p.block(1))->seat.hole.col;
    p.find<QToolButton>(p.selected, "selected.hole_right").click();
    EXPECT_EQ(p.session.in_stage().find(p.block(1))->seat.hole.col, col + 1);
}

TEST(SelectedPanel, ABlockThatCarriesAnotherIsNotTakenAwayUnderIt) {
    Panels p;
    p.open();
    p.select(p.block(11));
    EXPECT_TRUE(p.find<QLabel>(p.selected, "selected.facts").text().contains("12"));
    const auto before = p.session.share();
    p.find<QToolButton>(p.selected, "selected.remove").click();
    EXPECT_EQ(p.session.share(), before);
    EXPECT_TRUE(p.find<QLabel>(p.selected, "selected.wrong").isVisible());
    Selection all;
    for (const int no : {11, 12, 20}) all.placements.insert(p.block(no));
    p.session.select(all);
    p.find<QToolButton>(p.selected, "selected.remove_all").click();
    EXPECT_EQ(p.session.in_stage().placements.size(), before->stages.front().placements.size() - 3);
}

TEST(SelectedPanel, HowAPieceIsHeldIsOneEditThatUndoTakesBack) {
    Panels p;
    p.open();
    const PieceId p4 = p.piece("P4");
    p.select(p4);
    auto& held = p.find<QComboBox>(p.selected, "selected.held");
    ASSERT_EQ(p.session.in_stage().held(p4), setup::HeldBy::nested);
    EXPECT_EQ(held.currentIndex(), 1);
    QSignalSpy changed(&p.session, &Session::changed);
    held.setFocus();
    QTest::keyClick(&held, Qt::Key_Down);
    EXPECT_EQ(p.session.in_stage().held(p4), setup::HeldBy::by_hand);
    EXPECT_EQ(changed.count(), 1);
    p.session.undo();
    EXPECT_EQ(p.session.in_stage().held(p4), setup::HeldBy::nested);
    EXPECT_EQ(held.currentIndex(), 1);
}

TEST(SelectedPanel, APieceThatLosesItsStopsCanStillMove) {
    Panels p;
    p.open();
    const PieceId p1 = p.piece("P1");
    p.select(p1);
    const auto& moves = p.find<QLabel>(p.selected, "selected.moves");
    EXPECT_EQ(moves.text(), "Cannot slide or turn.");
    Job loose = p.session.now();
    for (const int no : {1, 2, 3}) {
        base::Result<Job> without = setup::remove(loose, p.session.stage(), p.block(no));
        ASSERT_TRUE(without.ok());
        loose = std::move(*without);
    }
    ASSERT_TRUE(p.session.apply(loose, {"panel.did_turn", {}}));
    p.wait_for_report();
    EXPECT_TRUE(moves.text().contains("Can still slide")) << moves.text().toStdString();
}

TEST(FindingsPanel, AClickSelectsWhatTheFindingIsAbout) {
    Panels p;
    p.open();
    p.put_a_rest_into_a_stop();
    p.session.select({});
    const QModelIndex row = p.row_with("in each other's way");
    ASSERT_TRUE(row.isValid());
    p.click(row);
    EXPECT_TRUE(p.session.selection().placements.contains(p.block(4)));
    EXPECT_TRUE(p.session.selection().placements.contains(p.block(3)));
}

TEST(FindingsPanel, WorstComesFirstAndCountsAgreeWithTheReport) {
    Panels p;
    p.open();
    p.put_a_rest_into_a_stop();
    p.unfold_all();
    auto* lines = p.findings.findChild<FindingLines*>();
    int group = -1, seen = 0;
    for (int i = 0; i < lines->rowCount(); ++i) {
        const auto heading = lines->heading(lines->index(i));
        if (heading) {
            EXPECT_GT(static_cast<int>(*heading), group);
            group = static_cast<int>(*heading);
        } else {
            ++seen;
        }
    }
    EXPECT_EQ(seen, static_cast<int>(p.checker.report()->findings.size()));
    int fails = 0;
    for (const check::Finding& finding : p.checker.report()->findings)
        fails += finding.verdict == check::Verdict::fail ? 1 : 0;
    ASSERT_GT(fails, 0);
    EXPECT_EQ(p.find<QLabel>(p.findings, "findings.fix").text(), QString::number(fails) + " to fix");
}

TEST(FindingsPanel, AnAcceptedFindingStaysSoUntilItIsTakenBack) {
    Panels p;
    p.open();
    p.put_a_rest_into_a_stop();
    auto* lines = p.findings.findChild<FindingLines*>();
    const int to_fix = lines->count(FindingLines::Group::fix);
    p.click(p.row_with("in each other's way"));
    auto& accept = p.find<QPushButton>(p.findings, "findings.accept");
    ASSERT_TRUE(accept.isVisible());
    EXPECT_FALSE(accept.isEnabled()) << "without a reason";
    QTest::keyClicks(&p.find<QLineEdit>(p.findings, "findings.reason"), "cut away on the grinder");
    accept.click();
    p.wait_for_report();
    EXPECT_EQ(lines->count(FindingLines::Group::accepted), 1);
    EXPECT_EQ(lines->count(FindingLines::Group::fix), to_fix - 1);
    lines->fold(FindingLines::Group::accepted, false);
    p.click(p.row_with("in each other's way"));
    EXPECT_TRUE(p.find<QLabel>(p.findings, "findings.accepted_for").text().contains("cut away on the grinder"));
    p.find<QPushButton>(p.findings, "findings.take_back").click();
    p.wait_for_report();
    EXPECT_EQ(lines->count(FindingLines::Group::accepted), 0);
    EXPECT_EQ(lines->count(FindingLines::Group::fix), to_fix);
}

TEST(FindingsPanel, ANewReportLeavesTheChosenLineChosen) {
    Panels p;
    p.open();
    FindingLines lines(p.desk, nullptr);
    QListView list;
    list.setModel(&lines);
    check::Report many;
    for (int i = 0; i < 200; ++i) {
        check::Finding& finding = check::add_finding(many.findings, p.session.stage(), "clearance.piece",
                                                     check::Verdict::fail, {"name.block", {{"no", std::int64_t{i}}}});
        finding.subjects = {PlacementId{static_cast<std::uint32_t>(i + 1)}};
    }
    lines.show(&many);
    ASSERT_EQ(lines.rowCount(), 201);
    list.setCurrentIndex(lines.index(100));
    const QString chosen = list.currentIndex().data().toString();
    many.findings.erase(many.findings.begin() + 40);
    lines.show(&many);
    EXPECT_EQ(lines.rowCount(), 200);
    EXPECT_EQ(list.currentIndex().data().toString(), chosen);
    EXPECT_EQ(list.currentIndex().row(), 99);
}

struct Typed {
    const char* text;
    base::LengthUnit unit;
    std::optional<double> mm;
};
void PrintTo(const Typed& typed, std::ostream* out) {
    *out << typed.text;
}

class LengthTyped : public testing::TestWithParam<Typed> {};

TEST_P(LengthTyped, IsReadAsPeopleWriteIt) {
    Panels p;
    p.words.set_unit({GetParam().unit, 2, 64});
    LengthEdit field(p.desk);
    field.set_length(50);
    const QString before = field.text();
    QSignalSpy edited(&field, &LengthEdit::length_edited);
    field.show();
    p.type(field, GetParam().text);
    if (GetParam().mm) {
        ASSERT_EQ(edited.count(), 1);
        EXPECT_NEAR(edited[0][0].toDouble(), *GetParam().mm, 1e-9);
        EXPECT_FALSE(field.is_bad());
    } else {
        EXPECT_EQ(edited.count(), 0);
        EXPECT_TRUE(field.is_bad());
        EXPECT_EQ(field.text(), GetParam().text);
        EXPECT_FALSE(field.toolTip().isEmpty());
        QTest::keyClick(&field, Qt::Key_Escape);
        EXPECT_EQ(field.text(), before);
        EXPECT_FALSE(field.is_bad());
    }
}

constexpr base::LengthUnit mm = base::LengthUnit::mm, inch = base::LengthUnit::inch;
INSTANTIATE_TEST_SUITE_P(Texts, LengthTyped,
                         testing::Values(Typed{"12,5", mm, 12.5}, Typed{"12.5", mm, 12.5}, Typed{"19 mm", inch, 19.0},
                                         Typed{"3/4", inch, 0.75 * 25.4}, Typed{"3/4\"", mm, 0.75 * 25.4},
                                         Typed{"1 1/2\"", mm, 1.5 * 25.4}, Typed{"1-1/2", inch, 1.5 * 25.4},
                                         Typed{"1 1/2 in", mm, 1.5 * 25.4}, Typed{"-3", mm, -3.0},
                                         Typed{"1//2", mm, std::nullopt}, Typed{"twelve", mm, std::nullopt},
                                         Typed{"12 x", mm, std::nullopt}, Typed{"1/0", inch, std::nullopt}));

TEST(LengthEdit, TheSameLengthTypedAgainIsNoEdit) {
    Panels p;
    LengthEdit field(p.desk);
    field.set_length(50);
    field.show();
    QSignalSpy edited(&field, &LengthEdit::length_edited);
    p.type(field, "50,0");
    EXPECT_EQ(edited.count(), 0);
    EXPECT_EQ(field.text(), "50 mm");
}

TEST(Icons, DrawTheOnesThereAreInTheInkOfTheMoment) {
    Icons icons(Qt::red);
    EXPECT_TRUE(icons("no such drawing").isNull());
    const QIcon icon = icons("remove");
    const auto has = [&](const QColor& ink) {
        const QImage image = icon.pixmap(64, 64).toImage();
        for (int y = 0; y < image.height(); ++y)
            for (int x = 0; x < image.width(); ++x)
                if (image.pixelColor(x, y) == ink) return true;
        return false;
    };
    EXPECT_TRUE(has(Qt::red));
    icons.set_ink(Qt::blue);
    EXPECT_TRUE(has(Qt::blue));
    EXPECT_FALSE(has(Qt::red));
}

TEST(Icons, EveryComponentOfTheCatalogueHasAPicture) {
    Icons icons(Qt::black);
    for (const auto& component : catalogue().components) {
        if (component->body.empty()) continue;
        const QImage image = icons.picture(*component, 48, 2).toImage();
        EXPECT_EQ(image.width(), 96) << component->id;
        int drawn = 0;
        for (int y = 0; y < image.height(); ++y)
            for (int x = 0; x < image.width(); ++x) drawn += image.pixelColor(x, y).alpha() > 0 ? 1 : 0;
        EXPECT_GT(drawn, 96) << component->id;
    }
}

}  // namespace

}  // namespace setwright::app

int main(int argc, char** argv) {
    qputenv("QT_QPA_PLATFORM", "offscreen");
    testing::InitGoogleTest(&argc, argv);
    QApplication application(argc, argv);
    return RUN_ALL_TESTS();
}
