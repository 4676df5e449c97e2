// The whole window, driven by mouse and keys: under Xvfb through the X server, offscreen through Qt's queue.

#include "app/main_window.h"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <QAction>
#include <QApplication>
#include <QComboBox>
#include <QFileDialog>
#include <QLabel>
#include <QLineEdit>
#include <QListWidget>
#include <QProcess>
#include <QPushButton>
#include <QRegularExpression>
#include <QTemporaryDir>
#include <QTreeWidget>
#include <filesystem>
#include <fstream>
#include <random>
#include <regex>
#include <thread>

#include "app/workbench.h"
#include "core/base/file.h"
#include "core/setup/edit.h"
#include "core/setup/job_file.h"
#include "tests/app/hand.h"

namespace setwright::app {
namespace {

namespace fs = std::filesystem;
using space::Vec3;

std::string sample(const std::string& name) {
    return std::string(SETWRIGHT_SAMPLES_DIR) + "/" + name;
}

/// The window as window.cpp makes it, with its own autosave folder.
struct Opened {
    explicit Opened(std::string autosave_folder)
        : session(*shop::load_catalogue(base::resource_dir() + "/catalogue")),
          checker(session),
          words(base::TextCatalogue::load(base::resource_dir() + "/translations/en")),
          icons(Qt::black),
          autosave(session, std::move(autosave_folder)),
          window(desk, autosave, QApplication::platformName() == "offscreen") {
        use(*qApp, Theme::light);
        window.resize(1366, 768);
        window.show();
        window.activateWindow();
        Hand::wait(200);
    }

    viewer::View& view() { return window.findChild<Workbench*>()->view(); }
    QPointF pixel(const Vec3& p_T) { return view().to_widget(p_T); }
    Vec3 hole(const std::string& label) const {
        const shop::Hole at = *shop::parse_hole_label(label);
        const shop::Table& table = session.now().table;
        return {at.col * table.pitch_x_mm, at.row * table.pitch_y_mm, 0};
    }
    const setup::Stage& stage() const { return session.in_stage(); }
    const setup::Placement* block(int no) const {
        for (const setup::Placement& placement : stage().placements)
            if (placement.no == no) return &placement;
        return nullptr;
    }
    /// The pointer here is on this block.
    bool on_block(const QPointF& at, PlacementId block) {
        const viewer::Scene scene = viewer::make_scene(session.now(), session.stage(), shapes);
        const viewer::Picked picked = viewer::pick(scene, view().ray(at));
        return picked.placement() && *picked.placement() == block;
    }
    std::string callout(int no) const { return setup::callout(session.now(), stage(), *block(no)); }
    template <class Widget>
    Widget& get(const char* name) {
        return find<Widget>(window, name);
    }
    bool checked(int milliseconds = 20000) {
        return Hand::wait_for([&] { return checker.report() && checker.is_current(); }, milliseconds);
    }

    Session session;
    Checker checker;
    Words words;
    Icons icons;
    viewer::ShapeBook shapes;
    Desk desk{session, checker, words, icons, shapes};
    Autosave autosave;
    MainWindow window;
};

/// What samples/jobs says of one job.
struct Told {
    std::string side, at;
    std::vector<std::pair<std::string, std::string>> blocks;
    std::vector<std::pair<std::string, std::string>> held;
    std::vector<std::string> order;
};
Told told_by_commands(const std::string& job) {
    std::ifstream file(sample("jobs"));
    Told told;
    bool in_it = false;
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with("job=")) in_it = line.find("/" + job + ".setwright") != std::string::npos;
        if (!in_it) continue;
        std::smatch found;
        if (std::regex_search(line, found, std::regex(R"re(--down (\S+) --at (\S+))re"))) {
            told.side = found[1];
            told.at = found[2];
        } else if (std::regex_search(line, found,
                                     std::regex(R"re(^for hole in (.*); do place "\$hole" (\S+); done)re"))) {
            std::stringstream holes(found[1]);
            for (std::string hole; holes >> hole;) told.blocks.emplace_back(hole, found[2]);
        } else if (std::regex_search(line, found, std::regex(R"re(^place "([^"]*)" (\S+))re"))) {
            told.blocks.emplace_back(found[1], found[2]);
        } else if (std::regex_search(line, found, std::regex(R"re(^set_ held:(\S+) (\S+))re"))) {
            told.held.emplace_back(found[1], found[2]);
        } else if (std::regex_search(line, found, std::regex(R"re(^set_ order "([^"]*)")re"))) {
            std::stringstream pieces(found[1]);
            for (std::string piece; pieces >> piece;) told.order.push_back(piece);
        }
    }
    return told;
}

void name_file(Hand& hand, QWidget& dialog, const QString& path) {
    hand.fill(find<QLineEdit>(dialog, "fileNameEdit"), path);
    hand.key(Qt::Key_Return);
}

/// A face of a piece that looks along `way` in T, and a point of it that `view` shows.
std::optional<QPointF> pixel_of_face(Opened& app, const std::string& piece_name, const Vec3& way) {
    for (const PieceId id : app.stage().pieces) {
        if (app.session.now().piece_name(id) != piece_name) continue;
        const weldment::Piece& piece = *app.session.now().find_piece(id);
        const space::Pose X_TP = app.stage().lay.X_TM * piece.X_MP;
        for (std::size_t i = 0; i < piece.solid->faces.size(); ++i) {
            const space::Face& face = piece.solid->faces[i];
            if (face.surface.kind != space::SurfaceKind::plane || X_TP.turn(face.surface.axis).dot(way) < 0.999)
                continue;
            for (std::uint32_t t = 0; t < face.triangle_count; ++t) {
                const auto& corner = piece.solid->mesh.triangles[face.first_triangle + t];
                const auto& points = piece.solid->mesh.points;
                const Vec3 middle = X_TP * Vec3((points[corner[0]] + points[corner[1]] + points[corner[2]]) / 3);
                const QPointF at = app.pixel(middle);
                viewer::ShapeBook shapes;
                const viewer::Scene scene = viewer::make_scene(app.session.now(), app.session.stage(), shapes);
                const viewer::Picked picked = viewer::pick(scene, app.view().ray(at));
                if (picked.piece() && *picked.piece() == id && picked.face == static_cast<int>(i)) return at;
            }
        }
    }
    return {};
}

QTreeWidgetItem* shelf_item(QTreeWidget& list, const std::string& component) {
    for (int group = 0; group < list.topLevelItemCount(); ++group)
        for (int i = 0; i < list.topLevelItem(group)->childCount(); ++i) {
            QTreeWidgetItem* item = list.topLevelItem(group)->child(i);
            if (item->data(0, Qt::UserRole).toString().toStdString() == component) return item;
        }
    return nullptr;
}

/// Chooses a component on the shelf; it then hangs on the pointer.
void take(Opened& app, Hand& hand, const std::string& component) {
    auto& list = app.get<QTreeWidget>("shelf.list");
    QTreeWidgetItem* item = shelf_item(list, component);
    ASSERT_NE(item, nullptr) << component;
    list.scrollToItem(item);
    Hand::wait(20);
    hand.click(*list.viewport(), QPointF(list.visualItemRect(item).center()));
}

void set_by_callout(Opened& app, Hand& hand, const std::string& component, const std::string& callout) {
    take(app, hand, component);
    const std::size_t before = app.stage().placements.size();
    hand.fill(app.get<QLineEdit>("shelf.callout"), QString::fromStdString(callout));
    hand.key(Qt::Key_Return);
    ASSERT_EQ(app.stage().placements.size(), before + 1)
        << component << " in " << callout << ": " << app.get<QLabel>("shelf.wrong").text().toStdString();
}

/// By its key; a button lets itself be seen going down first.
void go_to(Opened& app, Hand& hand, MainWindow::Station station) {
    hand.key(Qt::Key_1 + static_cast<int>(station), Qt::AltModifier);
    EXPECT_TRUE(Hand::wait_for([&] { return app.window.station() == station; })) << station;
}

std::string output_of(const std::string& program, const QStringList& arguments, int* exit_code = nullptr) {
    QProcess process;
    process.start(QString::fromStdString(program), arguments);
    process.waitForFinished(120000);
    if (exit_code) *exit_code = process.exitCode();
    return (process.readAllStandardOutput() + process.readAllStandardError()).toStdString();
}

class Window : public ::testing::Test {
  protected:
    QString at(const char* name) const { return folder_.filePath(name); }
    std::string autosaves() const { return at("autosave").toStdString(); }

    QTemporaryDir folder_;
    Hand hand_;
};

/// The whole job by hand, as samples/jobs does it by commands.
void from_step_to_pdf(Opened& app, Hand& hand, const std::string& name, const QTemporaryDir& folder) {
    const Told told = told_by_commands(name);
    ASSERT_GE(told.blocks.size(), 20U);

    // Weldment: the STEP file, its table and shelf.
    hand.answer("file.new_dialog",
                [&](QWidget& dialog) { name_file(hand, dialog, QString::fromStdString(sample(name + ".step"))); });
    hand.answer("new_job", [&](QWidget& dialog) {
        auto& tables = find<QComboBox>(dialog, "new_job.table");
        tables.setCurrentIndex(tables.findText("50", Qt::MatchContains));
        hand.click(find<QPushButton>(dialog, "new_job.start"));
    });
    hand.key(Qt::Key_N, Qt::ControlModifier);
    ASSERT_TRUE(Hand::wait_for([&] { return app.session.has_job(); }, 30000));
    ASSERT_EQ(hand.unanswered(), 0);
    const std::shared_ptr<const setup::Setup> start = app.session.share();
    EXPECT_EQ(app.session.now().table.id, "grid50");
    EXPECT_EQ(app.window.station(), MainWindow::lay) << "the next thing to do is to lay it";

    // Lay: the face that goes down is clicked; the corner comes to where it is typed.
    if (told.side == "-Y") {
        app.view().look(viewer::Direction::south);
        Hand::wait(100);
        const std::optional<QPointF> face = pixel_of_face(app, "P1", -Vec3::UnitY());
        ASSERT_TRUE(face);
        hand.click(app.view(), *face);
        EXPECT_EQ(app.stage().lay.side_down, "-Y");
        app.view().look(viewer::Direction::above);
    }
    std::stringstream corner(told.at);
    for (const char* field : {"lay.x", "lay.y", "lay.z"}) {
        std::string mm;
        std::getline(corner, mm, ',');
        hand.fill(app.get<QLineEdit>(field), QString::fromStdString(mm + " mm"));
        hand.key(Qt::Key_Return);
    }
    app.view().fit();

    // Place: the first by pointer and keys, the others by callout.
    go_to(app, hand, MainWindow::place);
    for (const auto& [callout, component] : told.blocks) {
        set_by_callout(app, hand, component, callout);
        if (::testing::Test::HasFatalFailure()) return;
    }
    // A block goes two holes aside and back again by mouse.
    hand.key(Qt::Key_Escape);
    app.view().look(viewer::Direction::above);
    Hand::wait(60);
    const setup::Placement* stop = nullptr;
    QPointF home;
    for (const setup::Placement& placement : app.stage().placements) {
        if (placement.component != "m50-index-stop") continue;
        const QPointF at = app.pixel(app.hole(shop::hole_label(placement.seat.hole)));
        if (app.on_block(at, placement.id)) {
            stop = &placement;
            home = at;
        }
    }
    ASSERT_NE(stop, nullptr);
    const int no = stop->no;
    const std::string was = app.callout(no);
    const bool along_x = stop->seat.turn[0] == 0;
    const Vec3 two_holes = along_x ? Vec3(100, 0, 0) : Vec3(0, 100, 0);
    hand.drag(app.view(), home, app.pixel(app.hole(shop::hole_label(stop->seat.hole)) + two_holes));
    EXPECT_NE(app.callout(no), was);
    for (int i = 0; i < 2; ++i) hand.key(along_x ? Qt::Key_Left : Qt::Key_Down);
    EXPECT_EQ(app.callout(no), was);

    // How pieces are held.
    go_to(app, hand, MainWindow::weldment);
    for (const auto& [piece, way] : told.held) {
        PieceId id;
        for (const PieceId one : app.stage().pieces)
            if (app.session.now().piece_name(one) == piece) id = one;
        app.session.select({{}, {id}, {}});
        auto& held = app.get<QComboBox>("selected.held");
        held.setFocus();
        const int wanted = way == "set-up" ? 0 : way == "nested" ? 1 : 2;
        while (held.currentIndex() < wanted) {
            hand.key(Qt::Key_Down);
            Hand::wait(20);
        }
        EXPECT_EQ(app.stage().held(id), static_cast<setup::HeldBy>(wanted)) << piece;
    }

    // Order of loading: each piece goes up the list until it comes before those that follow it.
    go_to(app, hand, MainWindow::order);
    auto& steps = app.get<QListWidget>("steps.list");
    const auto row_of = [&](const std::string& piece) {
        for (int row = 0; row < steps.count(); ++row)
            if (steps.item(row)->text().contains(QRegularExpression("\\b" + QString::fromStdString(piece) + "$")))
                return row;
        return -1;
    };
    for (std::size_t i = 0; i < told.order.size(); ++i) {
        const auto first_of_the_rest = [&] {
            return std::all_of(told.order.begin() + static_cast<std::ptrdiff_t>(i) + 1, told.order.end(),
                               [&](const std::string& later) { return row_of(told.order[i]) < row_of(later); });
        };
        for (int tries = 0; !first_of_the_rest() && tries < 60; ++tries) {
            const int row = row_of(told.order[i]);
            steps.scrollToItem(steps.item(row));
            hand.click(*steps.viewport(), QPointF(steps.visualItemRect(steps.item(row)).center()));
            hand.key(Qt::Key_Up, Qt::AltModifier);
        }
        EXPECT_TRUE(first_of_the_rest()) << told.order[i];
    }

    // Everything is checked and good, as it is for the ready job.
    ASSERT_TRUE(app.checked());
    const base::Result<setup::OpenedJob> ready = setup::open_job(sample(name + ".setwright"));
    ASSERT_TRUE(ready.ok());
    std::set<std::string> ours, theirs;
    for (const setup::Placement& placement : app.stage().placements)
        ours.insert(placement.component + ' ' + setup::callout(app.session.now(), app.stage(), placement));
    for (const setup::Placement& placement : ready->setup.stages[0].placements)
        theirs.insert(placement.component + ' ' + setup::callout(ready->setup, ready->setup.stages[0], placement));
    EXPECT_EQ(ours, theirs);
    for (const check::Finding& finding : app.checker.report()->findings)
        EXPECT_NE(finding.verdict, check::Verdict::fail) << app.words(finding.text).toStdString();

    // Saved, drawn, on paper.
    const QString job = folder.filePath(QString::fromStdString(name + ".setwright"));
    hand.answer("file.save_dialog", [&](QWidget& dialog) { name_file(hand, dialog, job); });
    hand.key(Qt::Key_S, Qt::ControlModifier);
    ASSERT_TRUE(Hand::wait_for([&] { return !app.session.unsaved(); }));
    go_to(app, hand, MainWindow::drawing);
    auto& pages = app.get<QListWidget>("drawing.list");
    ASSERT_TRUE(Hand::wait_for([&] { return pages.count() >= 4; }, 60000));
    const QString pdf = folder.filePath(QString::fromStdString(name + ".pdf"));
    hand.answer("drawing.pdf_dialog", [&](QWidget& dialog) { name_file(hand, dialog, pdf); });
    hand.click(app.get<QPushButton>("drawing.pdf"));
    ASSERT_TRUE(Hand::wait_for([&] { return fs::exists(pdf.toStdString()); }, 30000));
    int code = -1;
    const std::string text = output_of("pdftotext", {"-layout", pdf, "-"}, &code);
    EXPECT_EQ(code, 0);
    for (const setup::Placement& placement : app.stage().placements)
        EXPECT_NE(text.find(shop::hole_label(placement.seat.hole)), std::string::npos) << app.callout(placement.no);
    EXPECT_EQ(output_of(SETWRIGHT_PROGRAM, {"check", job}, &code).find("our mistake"), std::string::npos);
    EXPECT_EQ(code, 0);

    // Undo all is the start, redo all the end.
    const std::shared_ptr<const setup::Setup> end = app.session.share();
    go_to(app, hand, MainWindow::place);
    hand.click(app.view(), QPointF(5, 5));
    int undone = 0;
    while (app.session.can_undo() && undone < 500) {
        hand.key(Qt::Key_Z, Qt::ControlModifier);
        ++undone;
    }
    EXPECT_TRUE(setup::same(app.session.now(), *start));
    EXPECT_GE(undone, static_cast<int>(told.blocks.size() + told.held.size()));
    while (app.session.can_redo() && undone-- > 0) hand.key(Qt::Key_Z, Qt::ControlModifier | Qt::ShiftModifier);
    EXPECT_TRUE(setup::same(app.session.now(), *end));
}

TEST_F(Window, TakesTheGrinderStandFromStepToPdf) {
    Opened app(autosaves());
    from_step_to_pdf(app, hand_, "D1", folder_);
    app.autosave.close();
}

TEST_F(Window, TakesTheGateFrameFromStepToPdf) {
    Opened app(autosaves());
    from_step_to_pdf(app, hand_, "D2", folder_);
    app.autosave.close();
}

TEST_F(Window, SetsABlockByPointerAndKeys) {
    Opened app(autosaves());
    app.window.open(QString::fromStdString(sample("D1.setwright")));
    ASSERT_TRUE(Hand::wait_for([&] { return app.session.has_job(); }));
    Hand::wait(100);
    app.view().look(viewer::Direction::above);
    app.view().fit();
    const std::size_t before = app.stage().placements.size();
    take(app, hand_, "m50-index-stop");
    hand_.move(app.view(), app.pixel(app.hole("F26")));
    Hand::wait(50);
    app.view().setFocus();
    // East, north-east, north.
    hand_.key(Qt::Key_R);
    hand_.key(Qt::Key_R);
    hand_.key(Qt::Key_Plus);
    hand_.key(Qt::Key_Plus);
    hand_.click(app.view(), app.pixel(app.hole("F26")));
    ASSERT_EQ(app.stage().placements.size(), before + 1);
    const std::string callout = app.callout(app.stage().placements.back().no);
    EXPECT_TRUE(callout.starts_with("F26 N 2 · plate 50")) << callout;
    app.autosave.close();
}

TEST_F(Window, TakesABlockThatIsDraggedOffTheShelf) {
    if (hand_.kind() != "xtest") GTEST_SKIP() << "a drag from widget to widget needs an X server";
    Opened app(autosaves());
    app.window.open(QString::fromStdString(sample("D1.setwright")));
    ASSERT_TRUE(Hand::wait_for([&] { return app.session.has_job(); }));
    Hand::wait(100);
    app.view().look(viewer::Direction::above);
    app.view().fit();
    const std::size_t before = app.stage().placements.size();
    auto& list = app.get<QTreeWidget>("shelf.list");
    QTreeWidgetItem* item = shelf_item(list, "m50-rest-50");
    ASSERT_NE(item, nullptr);
    list.scrollToItem(item);
    Hand::wait(50);
    hand_.carry(*list.viewport(), QPointF(list.visualItemRect(item).center()), app.view(), app.pixel(app.hole("F26")));
    ASSERT_EQ(app.stage().placements.size(), before + 1);
    EXPECT_EQ(app.callout(app.stage().placements.back().no), "F26");
    app.autosave.close();
}

/// The window in a process that is killed: does its edits and waits for the end.
[[noreturn]] void edit_and_hang(const std::string& autosave_folder, int tell) {
    Hand hand;
    Opened app(autosave_folder);
    app.window.open(QString::fromStdString(sample("D2.setwright")));
    Hand::wait_for([&] { return app.session.has_job(); });
    Hand::wait(100);
    const setup::Placement* last = nullptr;
    for (const setup::Placement& placement : app.stage().placements)
        if (placement.component == "m50-rest-50") last = &placement;
    app.session.select({{last->id}, {}, {}});
    app.view().setFocus();
    const setup::Setup before = app.session.now();
    hand.key(Qt::Key_Delete);
    bool written = false;
    QObject::connect(&app.autosave, &Autosave::written, &app.window, [&] { written = true; });
    Hand::wait_for(
        [&] {
            return written && app.session.now().stages[0].placements.size() + 1 == before.stages[0].placements.size();
        },
        20000);
    const char byte = written ? 1 : 0;
    if (::write(tell, &byte, 1) != 1) std::_Exit(1);
    for (;;) Hand::wait(1000);
}

TEST_F(Window, OffersWhatAKilledProgramHeld) {
    int pipe[2];
    ASSERT_EQ(::pipe(pipe), 0);
    QProcess other;
    const QString tell = QString("/proc/%1/fd/%2").arg(::getpid()).arg(pipe[1]);
    other.setProcessChannelMode(QProcess::ForwardedChannels);
    other.start(QApplication::applicationFilePath(), {"--edit-and-hang", QString::fromStdString(autosaves()), tell});
    char byte = 0;
    ASSERT_TRUE(other.waitForStarted());
    ASSERT_EQ(::read(pipe[0], &byte, 1), 1);
    ASSERT_EQ(byte, 1);
    other.kill();
    other.waitForFinished();

    Opened app(autosaves());
    const std::vector<LeftBehind> left = app.autosave.left_behind();
    ASSERT_EQ(left.size(), 1U);
    app.window.offer(left.front());
    Hand::wait(100);
    hand_.click(app.get<QPushButton>("offer.recover"));
    ASSERT_TRUE(Hand::wait_for([&] { return app.session.has_job(); }));
    const base::Result<setup::OpenedJob> whole = setup::open_job(sample("D2.setwright"));
    ASSERT_TRUE(whole.ok());
    EXPECT_EQ(app.stage().placements.size() + 1, whole->setup.stages[0].placements.size());
    EXPECT_TRUE(app.session.unsaved());
    EXPECT_EQ(fs::path(app.session.path()).filename(), "D2.setwright");
    app.autosave.close();
}

}  // namespace
}  // namespace setwright::app

int main(int argc, char** argv) {
    ::testing::InitGoogleTest(&argc, argv);
    QApplication application(argc, argv);
    std::setlocale(LC_NUMERIC, "C");
    application.setApplicationName("setwright-test");
    application.setOrganizationName("setwright-test");
    if (argc == 4 && std::string(argv[1]) == "--edit-and-hang")
        setwright::app::edit_and_hang(argv[2], ::open(argv[3], O_WRONLY));
    return RUN_ALL_TESTS();
}
