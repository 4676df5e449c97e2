// The panels of the weldment, its lay, the steps and the drawing on the sample jobs, on the offscreen platform.

#include <gtest/gtest.h>

#include <QAction>
#include <QApplication>
#include <QComboBox>
#include <QDir>
#include <QDoubleSpinBox>
#include <QFileDialog>
#include <QFileInfo>
#include <QLabel>
#include <QLineEdit>
#include <QListWidget>
#include <QPlainTextEdit>
#include <QPushButton>
#include <QSignalSpy>
#include <QTemporaryDir>
#include <QTest>
#include <QToolButton>
#include <QTreeWidget>

#include "app/panels/drawing_panel.h"
#include "app/panels/lay_panel.h"
#include "app/panels/page_preview.h"
#include "app/panels/pieces_panel.h"
#include "app/panels/steps_panel.h"
#include "app/print.h"
#include "core/base/child.h"
#include "core/base/file.h"
#include "core/base/limits.h"
#include "core/setup/edit.h"
#include "core/setup/job_file.h"
#include "viewer/scene.h"

namespace {

using namespace setwright;

constexpr int patience_ms = 120000;

std::string run(const std::string& program, const std::vector<std::string>& arguments) {
    const auto ran = base::run_child(program, arguments, std::chrono::seconds(120));
    EXPECT_TRUE(ran.ok()) << program;
    return ran ? ran->output : "";
}

std::string sample(const std::string& name) {
    return std::string(SETWRIGHT_SAMPLES_DIR) + "/" + name;
}

const setup::Setup& sample_job(const std::string& name) {
    static std::map<std::string, setup::Setup> opened;
    const auto found = opened.find(name);
    if (found != opened.end()) return found->second;
    auto job = setup::open_job(sample(name));
    EXPECT_TRUE(job.ok()) << name;
    return opened.emplace(name, std::move(job->setup)).first->second;
}

/// A desk with a sample job on it; no window, no view.
class Drawing : public testing::Test {
  protected:
    Drawing()
        : session(*shop::load_catalogue(base::resource_dir() + "/catalogue")),
          checker(session),
          words(base::TextCatalogue::load(base::resource_dir() + "/translations/en")),
          icons(Qt::black),
          desk{session, checker, words, icons, shapes} {
        // As the window does.
        const auto follow_unit = [this] { words.set_unit(session.now().display.unit); };
        QObject::connect(&session, &app::Session::opened, follow_unit);
        QObject::connect(&session, &app::Session::changed, follow_unit);
        QObject::connect(&session, &app::Session::refused, [this](const base::Text& text) { refusals << words(text); });
        QObject::connect(&session, &app::Session::said, [this](const base::Text& text) { answers << words(text); });
    }

    void open(const std::string& name) { session.open(sample_job(name), sample(name), false); }
    const setup::Stage& stage() const { return session.in_stage(); }
    space::Aabb box() const { return setup::laid_box(session.now(), stage()); }

    template <class W>
    static W* find(QWidget& in, const char* name) {
        W* found = in.findChild<W*>(name);
        EXPECT_NE(found, nullptr) << name;
        return found;
    }
    static void click(QWidget& in, const char* name) {
        QTest::mouseClick(find<QAbstractButton>(in, name), Qt::LeftButton);
    }
    static void type(QLineEdit& field, const QString& text) {
        field.setFocus();
        field.selectAll();
        QTest::keyClicks(&field, text);
        QTest::keyClick(&field, Qt::Key_Return);
    }

    app::Session session;
    app::Checker checker;
    app::Words words;
    app::Icons icons;
    viewer::ShapeBook shapes;
    app::Desk desk;
    QStringList refusals, answers;
};

/// The drawing station: its column and its middle.
class DrawingStation : public Drawing {
  protected:
    DrawingStation() : preview(desk), panel(desk, preview) {
        panel.resize(300, 560);
        preview.resize(746, 600);
    }
    void show() {
        panel.show();
        preview.show();
    }
    bool wait_for_pages() {
        return QTest::qWaitFor([this] { return panel.pages() != nullptr; }, patience_ms);
    }
    /// Presses the button and gives the dialog this file name.
    void save_as(const char* button, const char* dialog_name, const QString& file) {
        click(panel, button);
        ASSERT_TRUE(
            QTest::qWaitFor([&] { return panel.findChild<QFileDialog*>(dialog_name) != nullptr; }, patience_ms));
        auto* dialog = panel.findChild<QFileDialog*>(dialog_name);
        dialog->findChild<QLineEdit*>("fileNameEdit")->setText(file);
        QSignalSpy saved(&panel, &app::DrawingPanel::saved);
        static_cast<QDialog*>(dialog)->accept();
        if (panel.findChild<QWidget*>("drawing.over") == nullptr) {
            ASSERT_TRUE(saved.wait(patience_ms));
        }
    }

    app::PagePreview preview;
    app::DrawingPanel panel;
    QTemporaryDir folder;
};

TEST_F(DrawingStation, NothingIsShownWithoutAJob) {
    show();
    EXPECT_EQ(panel.pages(), nullptr);
    EXPECT_FALSE(panel.isEnabled());
    EXPECT_EQ(find<QListWidget>(panel, "drawing.list")->count(), 0);
}

TEST_F(DrawingStation, PagesAppearWithTitlesAndTheFirstIsShown) {
    for (const char* name : {"D1.setwright", "D2.setwright"}) {
        open(name);
        show();
        ASSERT_TRUE(wait_for_pages()) << name;
        const auto* list = find<QListWidget>(panel, "drawing.list");
        ASSERT_GT(panel.pages()->size(), 3u);
        EXPECT_EQ(list->count(), static_cast<int>(panel.pages()->size()));
        for (int i = 0; i < list->count(); ++i)
            EXPECT_TRUE(list->item(i)->text().contains(
                QString::fromStdString((*panel.pages())[static_cast<std::size_t>(i)].title)));
        EXPECT_EQ(list->currentRow(), 0);
    }
}

TEST_F(DrawingStation, PagesAreNotDrawnWhileNobodyLooks) {
    open("D2.setwright");
    ASSERT_TRUE(QTest::qWaitFor([this] { return checker.is_current(); }, patience_ms));
    QTest::qWait(100);
    EXPECT_EQ(panel.pages(), nullptr);
    show();
    EXPECT_TRUE(wait_for_pages());
}

TEST_F(DrawingStation, PagesOfAnOlderJobAreDropped) {
    open("D2.setwright");
    show();
    ASSERT_TRUE(wait_for_pages());
    type(*find<QLineEdit>(panel, "drawing.customer"), "Old Mill Farm");
    EXPECT_EQ(panel.pages(), nullptr);
    type(*find<QLineEdit>(panel, "drawing.customer"), "New Mill Farm");
    ASSERT_TRUE(wait_for_pages());
    bool is_new = false, is_old = false;
    for (const sheet::Item& item : panel.pages()->front().items) {
        is_new |= item.label.text == "New Mill Farm";
        is_old |= item.label.text == "Old Mill Farm";
    }
    EXPECT_TRUE(is_new);
    EXPECT_FALSE(is_old);
}

// The same pages from the window and from "setwright sheets", word for word and line for line.
TEST_F(DrawingStation, PdfOfTheWindowIsThatOfTheCommandLine) {
    for (const std::string name : {"D1", "D2"}) {
        open(name + ".setwright");
        show();
        ASSERT_TRUE(wait_for_pages());
        // No ending: it is added.
        save_as("drawing.pdf", "drawing.pdf_dialog", folder.filePath(QString::fromStdString(name)));
        const std::string mine = folder.filePath(QString::fromStdString(name) + ".pdf").toStdString();
        const std::string theirs = folder.filePath(QString::fromStdString(name) + "-cli.pdf").toStdString();
        run(SETWRIGHT_PROGRAM, {"sheets", sample(name + ".setwright"), "-o", theirs});
        const std::string text = run("/usr/bin/pdftotext", {"-layout", mine, "-"});
        EXPECT_GT(text.size(), 1000u);
        EXPECT_EQ(text, run("/usr/bin/pdftotext", {"-layout", theirs, "-"}));
        for (const char* page : {"1", "2"})
            EXPECT_EQ(run("/usr/bin/pdftoppm", {"-r", "50", "-gray", "-f", page, "-l", page, mine}),
                      run("/usr/bin/pdftoppm", {"-r", "50", "-gray", "-f", page, "-l", page, theirs}));
    }
}

TEST_F(DrawingStation, SvgGoesIntoOneFileAPage) {
    open("D2.setwright");
    show();
    ASSERT_TRUE(wait_for_pages());
    save_as("drawing.svg", "drawing.svg_dialog", folder.filePath("gate.svg"));
    for (std::size_t i = 1; i <= panel.pages()->size(); ++i)
        EXPECT_TRUE(QFileInfo(folder.filePath(QString("gate-%1.svg").arg(i, 2, 10, QChar('0')))).size() > 1000) << i;
}

TEST_F(DrawingStation, OldFilesAreWrittenOverOnlyWhenAsked) {
    open("D2.setwright");
    show();
    ASSERT_TRUE(wait_for_pages());
    const QString path = folder.filePath("old.pdf");
    ASSERT_TRUE(base::write_file(path.toStdString(), "old").ok());
    save_as("drawing.pdf", "drawing.pdf_dialog", path);
    ASSERT_NE(panel.findChild<QWidget*>("drawing.over"), nullptr);
    EXPECT_EQ(QFileInfo(path).size(), 3);
    QSignalSpy saved(&panel, &app::DrawingPanel::saved);
    panel.findChild<QPushButton*>("drawing.write_over")->click();
    ASSERT_TRUE(saved.wait(patience_ms));
    EXPECT_GT(QFileInfo(path).size(), 1000);
}

TEST_F(DrawingStation, AFolderThatIsNotThereIsRefusedInOneSentence) {
    open("D2.setwright");
    show();
    ASSERT_TRUE(wait_for_pages());
    QDir(folder.path()).mkdir("gone");
    click(panel, "drawing.pdf");
    auto* dialog = panel.findChild<QFileDialog*>("drawing.pdf_dialog");
    ASSERT_NE(dialog, nullptr);
    QSignalSpy saved(&panel, &app::DrawingPanel::saved);
    Q_EMIT dialog->fileSelected(folder.filePath("nowhere/x.pdf"));
    ASSERT_TRUE(saved.wait(patience_ms));
    ASSERT_EQ(refusals.size(), 1);
    EXPECT_TRUE(refusals.front().contains("nowhere/x.pdf"));
    EXPECT_TRUE(refusals.front().endsWith('.'));
}

TEST_F(DrawingStation, TitleBlockEditsAreUndone) {
    open("D1.setwright");
    show();
    const setup::TitleBlock before = session.now().title;
    auto* job = find<QLineEdit>(panel, "drawing.job");
    EXPECT_EQ(job->text().toStdString(), before.job);
    type(*job, "Stand for Ann's shop");
    EXPECT_EQ(session.now().title.job, "Stand for Ann's shop");
    EXPECT_FALSE(words(session.undo_label()).isEmpty());
    auto* notes = find<QPlainTextEdit>(panel, "drawing.notes");
    notes->setPlainText("Grind before you load.\nTwo people.");
    QFocusEvent out(QEvent::FocusOut);
    QApplication::sendEvent(notes, &out);
    EXPECT_EQ(session.now().notes, "Grind before you load.\nTwo people.");
    session.undo();
    session.undo();
    EXPECT_EQ(session.now().title, before);
    EXPECT_EQ(job->text().toStdString(), before.job);
    EXPECT_EQ(notes->toPlainText().toStdString(), session.now().notes);
    EXPECT_FALSE(session.can_undo());
}

TEST_F(DrawingStation, AFieldThatIsOnlyLeftChangesNothing) {
    open("D1.setwright");
    show();
    auto* part = find<QLineEdit>(panel, "drawing.part");
    part->setFocus();
    QTest::keyClick(part, Qt::Key_Return);
    EXPECT_FALSE(session.can_undo());
}

TEST_F(DrawingStation, PaperAndUnitAreTheJobs) {
    open("D2.setwright");
    show();
    ASSERT_TRUE(wait_for_pages());
    EXPECT_NEAR(panel.pages()->front().width_mm, 297, 0.01);
    auto* paper = find<QComboBox>(panel, "drawing.paper");
    paper->setCurrentIndex(paper->findData("tabloid"));
    Q_EMIT paper->activated(paper->currentIndex());
    auto* unit = find<QComboBox>(panel, "drawing.unit");
    unit->setCurrentIndex(unit->findData(16));
    Q_EMIT unit->activated(unit->currentIndex());
    EXPECT_EQ(session.now().display.paper, "tabloid");
    EXPECT_EQ(session.now().display.unit.unit, base::LengthUnit::inch);
    EXPECT_EQ(session.now().display.unit.denominator, 16);
    ASSERT_TRUE(wait_for_pages());
    // Tabloid: 11 x 17 inches (ANSI/ASME Y14.1, size B).
    EXPECT_NEAR(panel.pages()->front().width_mm, 17 * 25.4, 0.01);
    EXPECT_NEAR(panel.pages()->front().height_mm, 11 * 25.4, 0.01);
}

TEST_F(DrawingStation, FailingFindingsAreCounted) {
    // Half of the weldment goes into the table.
    const setup::Setup& job = sample_job("D2.setwright");
    const auto sunk = setup::shift_laid(job, job.stages.front().id, {0, 0, -60});
    ASSERT_TRUE(sunk.ok());
    session.open(*sunk, "", true);
    show();
    ASSERT_TRUE(QTest::qWaitFor([this] { return checker.is_current(); }, patience_ms));
    const auto& findings = checker.report()->findings;
    const auto fails = std::count_if(findings.begin(), findings.end(), [](const check::Finding& f) {
        return f.verdict == check::Verdict::fail && !f.accepted;
    });
    ASSERT_GT(fails, 0);
    EXPECT_TRUE(find<QLabel>(panel, "drawing.findings")->text().startsWith(QString::number(fails)));
}

/// Share of dark pixels in each cell of a grid over the page.
std::vector<double> ink_of(const QImage& image, int columns, int rows) {
    std::vector<double> dark(static_cast<std::size_t>(columns * rows)), all(dark.size());
    for (int y = 0; y < image.height(); ++y)
        for (int x = 0; x < image.width(); ++x) {
            const auto cell =
                static_cast<std::size_t>((y * rows / image.height()) * columns + x * columns / image.width());
            dark[cell] += 255 - qGray(image.pixel(x, y));
            all[cell] += 255;
        }
    for (std::size_t i = 0; i < dark.size(); ++i) dark[i] /= all[i];
    return dark;
}

// The preview against poppler's picture of the PDF at the same size: ink in the same places.
TEST_F(DrawingStation, PreviewHasInkWhereThePdfHas) {
    open("D1.setwright");
    show();
    ASSERT_TRUE(wait_for_pages());
    const std::string pdf = folder.filePath("ink.pdf").toStdString();
    ASSERT_TRUE(app::write_pdf(*panel.pages(), pdf, "ink").ok());
    for (int page = 0; page < 3; ++page) {
        find<QListWidget>(panel, "drawing.list")->setCurrentRow(page);
        const QRect paper = preview.view().paper().toAlignedRect();
        const QImage seen = preview.view().viewport()->grab(paper).toImage();
        const std::string number = std::to_string(page + 1);
        const std::string width = std::to_string(paper.width()), height = std::to_string(paper.height());
        const std::string ppm = run("/usr/bin/pdftoppm", {"-r", "100", "-scale-to-x", width, "-scale-to-y", height,
                                                          "-f", number, "-l", number, pdf});
        const QImage paper_of_pdf = QImage::fromData(QByteArray::fromStdString(ppm), "PPM");
        ASSERT_FALSE(paper_of_pdf.isNull());
        const std::vector<double> mine = ink_of(seen, 16, 12), theirs = ink_of(paper_of_pdf, 16, 12);
        double most = 0;
        for (std::size_t i = 0; i < mine.size(); ++i) {
            EXPECT_NEAR(mine[i], theirs[i], 0.05) << "page " << number << " cell " << i;
            most = std::max(most, theirs[i]);
        }
        EXPECT_GT(most, 0.1);
    }
}

TEST_F(DrawingStation, KeysTurnThePagesAndZoom) {
    open("D1.setwright");
    show();
    ASSERT_TRUE(wait_for_pages());
    app::PageView& view = preview.view();
    QTest::keyClick(&view, Qt::Key_PageDown);
    EXPECT_EQ(find<QListWidget>(panel, "drawing.list")->currentRow(), 1);
    QTest::keyClick(&view, Qt::Key_PageUp);
    QTest::keyClick(&view, Qt::Key_PageUp);
    EXPECT_EQ(find<QListWidget>(panel, "drawing.list")->currentRow(), 0);
    const double whole = view.pixels_per_mm();
    // The paper point under the pointer stays there.
    const QPointF at(200, 150);
    const QPointF before = (at - view.paper().topLeft()) / view.pixels_per_mm();
    view.zoom(3, at);
    EXPECT_NEAR(view.pixels_per_mm(), 3 * whole, 1e-9);
    const QPointF after = (at - view.paper().topLeft()) / view.pixels_per_mm();
    EXPECT_NEAR(before.x(), after.x(), 1);
    EXPECT_NEAR(before.y(), after.y(), 1);
    QTest::keyClick(&view, Qt::Key_0);
    EXPECT_NEAR(view.pixels_per_mm(), whole, 1e-9);
}

class Lay : public Drawing {
  protected:
    Lay() : panel(desk) {
        open("D1.setwright");
        panel.resize(300, 560);
        panel.show();
    }
    app::LayPanel panel;
};

TEST_F(Lay, ASideGoesDownAndTheCornerStays) {
    const space::Vec3 corner = box().min;
    const std::string label = words(session.undo_label()).toStdString();
    for (const char* side : {"-Z", "+X", "-X", "+Y", "+Z", "-Y"}) {
        click(panel, (std::string("lay.side") + side).c_str());
        EXPECT_EQ(stage().lay.side_down, side);
        const space::Vec3 down_M = stage().lay.X_TM.inverse().turn({0, 0, -1});
        const int axis = side[1] - 'X';
        EXPECT_NEAR(down_M[axis], side[0] == '+' ? 1 : -1, 1e-9) << side;
        EXPECT_NEAR((box().min - corner).norm(), 0, base::limits::coincident_mm) << side;
    }
    for (int i = 0; i < 6 && session.can_undo(); ++i) session.undo();
    EXPECT_FALSE(session.can_undo());
}

TEST_F(Lay, TurnsAreQuarterTurnsStepsAndExact) {
    click(panel, "lay.left_90");
    EXPECT_NEAR(stage().lay.yaw_deg, 90, 1e-9);
    click(panel, "lay.right_15");
    EXPECT_NEAR(stage().lay.yaw_deg, 75, 1e-9);
    auto* yaw = find<QDoubleSpinBox>(panel, "lay.yaw");
    EXPECT_NEAR(yaw->value(), 75, 1e-9);
    const space::Vec3 corner = box().min;
    yaw->setFocus();
    yaw->selectAll();
    QTest::keyClicks(yaw, "33.7");
    QTest::keyClick(yaw, Qt::Key_Return);
    EXPECT_NEAR(stage().lay.yaw_deg, 33.7, 1e-9);
    EXPECT_NEAR((box().min - corner).norm(), 0, base::limits::coincident_mm);
    for (int i = 0; i < 3; ++i) session.undo();
    EXPECT_FALSE(session.can_undo());
}

TEST_F(Lay, NudgesGoByOneHole) {
    const space::Vec3 from = box().min;
    const shop::Table& table = session.now().table;
    click(panel, "lay.east");
    click(panel, "lay.north");
    EXPECT_NEAR(box().min.x() - from.x(), table.pitch_x_mm, 1e-9);
    EXPECT_NEAR(box().min.y() - from.y(), table.pitch_y_mm, 1e-9);
    click(panel, "lay.west");
    click(panel, "lay.south");
    EXPECT_NEAR((box().min - from).norm(), 0, 1e-9);
}

TEST_F(Lay, PlaceIsTypedAsPeopleWriteIt) {
    type(*find<QLineEdit>(panel, "lay.z"), "3\"");
    EXPECT_NEAR(box().min.z(), 3 * 25.4, 1e-9);
    type(*find<QLineEdit>(panel, "lay.x"), "210,5");
    EXPECT_NEAR(box().min.x(), 210.5, 1e-9);
    session.undo();
    session.undo();
    EXPECT_FALSE(session.can_undo());
}

TEST_F(Lay, OverhangIsSaidWithItsSide) {
    EXPECT_FALSE(find<QLabel>(panel, "lay.over")->text().contains("west"));
    type(*find<QLineEdit>(panel, "lay.x"), "-300");
    const double over = 300 - session.now().table.margin_west_mm;
    const QString said = find<QLabel>(panel, "lay.over")->text();
    EXPECT_TRUE(said.contains("west")) << said.toStdString();
    EXPECT_TRUE(said.contains(words.length(over))) << said.toStdString();
}

class Steps : public Drawing {
  protected:
    Steps() : panel(desk) {
        panel.resize(300, 560);
        panel.show();
    }
    QListWidget& list() { return *find<QListWidget>(panel, "steps.list"); }
    app::StepsPanel panel;
};

TEST_F(Steps, EveryBlockAndPieceHasOneStepHostsFirst) {
    for (const char* name : {"D1.setwright", "D2.setwright"}) {
        open(name);
        const auto steps = app::all_steps(session.now(), stage());
        std::set<setup::PlacementId> set;
        std::set<setup::PieceId> loaded;
        for (const setup::Step& step : steps) {
            for (const auto id : step.placements) {
                const setup::Seat& seat = stage().find(id)->seat;
                if (seat.host.kind == setup::Host::Kind::placement) {
                    EXPECT_TRUE(set.contains(seat.host.placement));
                }
                EXPECT_TRUE(set.insert(id).second);
            }
            for (const auto id : step.pieces) EXPECT_TRUE(loaded.insert(id).second);
        }
        EXPECT_EQ(set.size(), stage().placements.size());
        EXPECT_EQ(loaded.size(), stage().pieces.size());
        EXPECT_EQ(list().count(), static_cast<int>(steps.size()));
    }
}

TEST_F(Steps, MovingAStepIsOneEdit) {
    open("D2.setwright");
    const int last = list().count() - 1;
    list().setCurrentRow(last);
    const auto before = app::all_steps(session.now(), stage());
    click(panel, "steps.up");
    auto after = app::all_steps(session.now(), stage());
    ASSERT_EQ(after.size(), before.size());
    EXPECT_EQ(after[after.size() - 2].placements, before.back().placements);
    EXPECT_EQ(after[after.size() - 2].pieces, before.back().pieces);
    EXPECT_EQ(list().currentRow(), last - 1);
    panel.activateWindow();
    ASSERT_TRUE(QTest::qWaitForWindowActive(&panel));
    list().setFocus();
    QTest::keyClick(&list(), Qt::Key_Down, Qt::AltModifier);
    after = app::all_steps(session.now(), stage());
    EXPECT_EQ(after.back().placements, before.back().placements);
    session.undo();
    session.undo();
    EXPECT_FALSE(session.can_undo());
}

// What the list does to its rows when one is dropped.
TEST_F(Steps, DraggingAStepIsOneEdit) {
    open("D2.setwright");
    const auto before = app::all_steps(session.now(), stage());
    ASSERT_TRUE(list().model()->moveRow({}, 3, {}, 1));
    ASSERT_TRUE(QTest::qWaitFor([this] { return session.can_undo(); }, 5000));
    const auto after = app::all_steps(session.now(), stage());
    EXPECT_EQ(after[1].placements, before[3].placements);
    EXPECT_EQ(after[2].placements, before[1].placements);
    EXPECT_EQ(after[3].placements, before[2].placements);
    EXPECT_EQ(list().currentRow(), 1);
    session.undo();
    EXPECT_FALSE(session.can_undo());
}

TEST_F(Steps, AGuestIsNotSetBeforeItsHost) {
    open("D1.setwright");
    const auto steps = app::all_steps(session.now(), stage());
    const auto guest = std::find_if(steps.begin(), steps.end(), [&](const setup::Step& step) {
        return step.kind == setup::StepKind::set &&
               stage().find(step.placements.front())->seat.host.kind == setup::Host::Kind::placement;
    });
    ASSERT_NE(guest, steps.end());
    const setup::PlacementId host = stage().find(guest->placements.front())->seat.host.placement;
    const auto at = std::find_if(steps.begin(), steps.end(), [&](const setup::Step& step) {
        return step.kind == setup::StepKind::set && step.placements.front() == host;
    });
    list().setCurrentRow(static_cast<int>(at - steps.begin()));
    while (refusals.isEmpty() && list().currentRow() + 1 < list().count()) click(panel, "steps.down");
    ASSERT_EQ(refusals.size(), 1);
    EXPECT_TRUE(refusals.front().contains(QString::number(stage().find(host)->no)));
}

TEST_F(Steps, AddedStepsHoldWhatIsSelectedAndANote) {
    open("D2.setwright");
    const int count = list().count();
    list().setCurrentRow(0);
    ASSERT_EQ(session.selection().placements.size(), 1u);
    panel.findChild<QAction*>("steps.add.clamp_hard")->trigger();
    ASSERT_EQ(list().count(), count + 1);
    EXPECT_EQ(list().currentRow(), 1);
    type(*find<QLineEdit>(panel, "steps.note"), "hand tight first");
    EXPECT_TRUE(list().item(1)->text().contains("hand tight first"));
    const setup::Step& step = stage().order[1];
    EXPECT_EQ(step.kind, setup::StepKind::clamp_hard);
    EXPECT_EQ(step.placements.front(), *session.selection().placements.begin());
    click(panel, "steps.remove");
    EXPECT_EQ(list().count(), count);
    for (int i = 0; i < 3; ++i) session.undo();
    EXPECT_FALSE(session.can_undo());
}

TEST_F(Drawing, PiecesAndTheSelectionFollowEachOther) {
    open("D1.setwright");
    app::PiecesPanel panel(desk);
    panel.show();
    auto* list = find<QTreeWidget>(panel, "pieces.list");
    const setup::PieceId piece = session.now().weldments.front().model->pieces.front().id;
    session.select({{}, {piece}, {}});
    ASSERT_FALSE(list->selectedItems().isEmpty());
    EXPECT_TRUE(
        list->selectedItems().last()->text(0).startsWith(QString::fromStdString(session.now().piece_name(piece))));
    const setup::SeamId seam = session.now().weldments.front().model->seams.front().id;
    session.select({{}, {}, seam});
    ASSERT_FALSE(list->selectedItems().isEmpty());
    QTreeWidgetItem* row = list->selectedItems().first();
    list->clearSelection();
    EXPECT_TRUE(session.selection().empty());
    row->setSelected(true);
    EXPECT_EQ(session.selection().seam, seam);
    // Every piece and weld has its row.
    const weldment::Weldment& model = *session.now().weldments.front().model;
    int rows = 0;
    for (int i = 0; i < list->topLevelItemCount(); ++i) rows += list->topLevelItem(i)->childCount();
    EXPECT_GE(rows, static_cast<int>(model.pieces.size() + model.seams.size()));
}

TEST_F(Drawing, PanelsAreSafeWithoutAJob) {
    app::PiecesPanel pieces(desk);
    app::LayPanel lay(desk);
    app::StepsPanel steps(desk);
    for (QWidget* panel : std::initializer_list<QWidget*>{&pieces, &lay, &steps}) {
        panel->show();
        panel->grab();
        for (QAbstractButton* button : panel->findChildren<QAbstractButton*>())
            if (button->isEnabled()) button->click();
    }
    EXPECT_TRUE(refusals.isEmpty());
}

}  // namespace

int main(int argc, char** argv) {
    qputenv("QT_QPA_PLATFORM", "offscreen");
    QApplication application(argc, argv);
    setwright::app::use(application, setwright::app::Theme::light);
    testing::InitGoogleTest(&argc, argv);
    return RUN_ALL_TESTS();
}
