#include <gtest/gtest.h>

#include <QApplication>
#include <QDragEnterEvent>
#include <QMimeData>
#include <QSignalSpy>
#include <QTest>
#include <random>

#include "app/tools/lay_tool.h"
#include "app/tools/place_tool.h"
#include "app/tools/select_tool.h"
#include "app/tools/touch_tool.h"
#include "app/workbench.h"
#include "core/base/file.h"
#include "core/base/limits.h"
#include "core/setup/edit.h"
#include "core/setup/job_file.h"

/// The tools in the plan on the offscreen platform, by real mouse and key events.
namespace setwright::app {

namespace {

using space::Vec3;

/// Inside a test `Setup` is a name of the test framework.
using Job = setup::Setup;

const Job& sample(const std::string& name) {
    static std::map<std::string, Job> jobs;
    if (const auto found = jobs.find(name); found != jobs.end()) return found->second;
    auto opened = setup::open_job(std::string(SETWRIGHT_SAMPLES_DIR) + "/" + name + ".setwright");
    EXPECT_TRUE(opened.ok()) << name;
    return jobs[name] = std::move(opened->setup);
}

const shop::Catalogue& catalogue() {
    static const shop::Catalogue all = *shop::load_catalogue(base::resource_dir() + "/catalogue");
    return all;
}

/// A workbench over a sample, as the window has it.
struct Bench {
    explicit Bench(const std::string& job) {
        QObject::connect(&session, &Session::refused,
                         [this](const base::Text& text) { refused.push_back(words(text).toStdString()); });
        QObject::connect(&session, &Session::said,
                         [this](const base::Text& text) { said.push_back(words(text).toStdString()); });
        bench.resize(1100, 700);
        bench.show();
        session.open(sample(job), "", false);
        bench.view().setFocus();
        settle();
    }
    ~Bench() { settle(); }

    static void settle() {
        for (int i = 0; i < 3; ++i) QCoreApplication::processEvents();
    }

    PlacementId block(int no) const {
        for (const setup::Placement& placement : session.in_stage().placements)
            if (placement.no == no) return placement.id;
        ADD_FAILURE() << "no block " << no;
        return {};
    }
    PieceId piece(const std::string& name) const {
        for (const PieceId id : session.in_stage().pieces)
            if (session.now().piece_name(id) == name) return id;
        ADD_FAILURE() << "no piece " << name;
        return {};
    }
    std::string callout(int no) const {
        const setup::Placement* placement = session.in_stage().find(block(no));
        return placement ? setup::callout(session.now(), session.in_stage(), *placement) : "";
    }
    Vec3 stands(PlacementId id) const {
        return setup::pose(session.now(), session.in_stage(), *session.in_stage().find(id))->X_TC.position();
    }

    /// Where the pointer is on this thing and on nothing else, nearest to `near`.
    QPointF on(const viewer::ItemId& item, const Vec3& near) {
        const viewer::Scene scene = viewer::make_scene(session.now(), session.stage(), shapes);
        const QPointF middle = bench.view().to_widget(near);
        for (int reach = 0; reach < 60; ++reach)
            for (int x = -reach; x <= reach; ++x)
                for (int y = -reach; y <= reach; ++y) {
                    if (std::max(std::abs(x), std::abs(y)) != reach) continue;
                    const QPointF at = middle + QPointF(x, y);
                    const viewer::Picked picked = viewer::pick(scene, bench.view().ray(at));
                    if (picked.kind == viewer::Picked::Kind::item && picked.item == item) return at;
                }
        ADD_FAILURE() << "not to be seen";
        return middle;
    }
    QPointF on(int no) { return on(block(no), stands(block(no))); }
    QPointF pixels(double x_mm, double y_mm) const {
        return bench.view().to_widget(Vec3(x_mm, y_mm, 0)) - bench.view().to_widget(Vec3::Zero());
    }

    QPoint in_window(const QPointF& at) const { return bench.view().mapTo(&bench, at.toPoint()); }
    void move(const QPointF& to) {
        QTest::mouseMove(bench.windowHandle(), in_window(to));
        settle();
    }
    void press(const QPointF& at) {
        move(at);
        QTest::mousePress(bench.windowHandle(), Qt::LeftButton, {}, in_window(at));
        settle();
    }
    void release(const QPointF& at) {
        QTest::mouseRelease(bench.windowHandle(), Qt::LeftButton, {}, in_window(at));
        settle();
    }
    void click(const QPointF& at) {
        press(at);
        release(at);
    }
    void drag(const QPointF& from, const QPointF& to) {
        press(from);
        for (int step = 1; step <= 6; ++step) move(from + (to - from) * step / 6.0);
        release(to);
    }
    void key(Qt::Key key, Qt::KeyboardModifiers modifiers = {}) {
        QTest::keyClick(bench.windowHandle(), key, modifiers);
        settle();
    }

    /// For a person to look at: into the folder that SETWRIGHT_PICTURES names.
    void picture(const char* name) {
        settle();
        const QString folder = qEnvironmentVariable("SETWRIGHT_PICTURES");
        if (!folder.isEmpty()) bench.view().picture().save(folder + "/" + name + ".png");
    }

    std::vector<std::string> refused, said;
    Session session{catalogue()};
    Checker checker{session};
    Words words{base::TextCatalogue::load(base::resource_dir() + "/translations/en")};
    Icons icons{Qt::black};
    viewer::ShapeBook shapes;
    Desk desk{session, checker, words, icons, shapes, Theme::light, nullptr};
    Workbench bench{desk, true};
};

std::shared_ptr<const shop::Component> component(const char* id) {
    auto found = catalogue().share(id);
    EXPECT_TRUE(found) << id;
    return found;
}

TEST(SelectTool, ABlockIsDraggedFromHoleToHoleAndUndoBringsItBack) {
    Bench b("D1");
    ASSERT_EQ(b.callout(1), "V6 S 4 · plate 100");
    const QPointF from = b.on(1);
    b.press(from);
    b.move(from + b.pixels(50, 0));
    b.move(from + b.pixels(303, 8));
    const auto& tool = dynamic_cast<const SelectTool&>(b.bench.tool());
    ASSERT_TRUE(tool.drag());
    EXPECT_EQ(tool.drag()->probed().callout, "V12 S 4 · plate 100");
    EXPECT_FALSE(tool.drag()->probed().blocked);
    const viewer::Overlay over = tool.overlay();
    ASSERT_EQ(over.ghosts.size(), 1U);
    ASSERT_EQ(over.notes.size(), 1U);
    EXPECT_EQ(over.notes[0].text.find("V12 S 4 · plate 100"), 0U) << over.notes[0].text;
    EXPECT_EQ(over.hole, (shop::Hole{11, 19}));
    EXPECT_FALSE(over.touches.empty());
    EXPECT_TRUE(over.hidden.contains(b.block(1)));
    // It is shown and checked, but not yet done.
    EXPECT_EQ(b.callout(1), "V6 S 4 · plate 100");
    EXPECT_NE(b.session.shown(), b.session.share());
    EXPECT_EQ(b.session.shown()->find_stage(b.session.stage())->find(b.block(1))->seat.hole, (shop::Hole{11, 19}));
    b.picture("drag");
    b.release(from + b.pixels(303, 8));

    EXPECT_EQ(b.callout(1), "V12 S 4 · plate 100");
    EXPECT_EQ(b.session.shown(), b.session.share());
    EXPECT_EQ(b.words(b.session.undo_label()), "move block 1");
    EXPECT_TRUE(b.session.selection().placements.contains(b.block(1)));
    EXPECT_TRUE(b.bench.tool().overlay().ghosts.empty());
    b.session.undo();
    EXPECT_TRUE(setup::same(b.session.now(), sample("D1")));
    EXPECT_FALSE(b.session.can_undo());
}

TEST(SelectTool, ABlockIsNotSetInAHoleThatIsTaken) {
    Bench b("D1");
    const QPointF from = b.on(1), to = from + b.pixels(14 * 50, 0);
    b.press(from);
    b.move(from + b.pixels(100, 0));
    b.move(to);
    const auto& tool = dynamic_cast<const SelectTool&>(b.bench.tool());
    ASSERT_TRUE(tool.drag());
    EXPECT_TRUE(tool.drag()->probed().blocked);
    EXPECT_EQ(tool.overlay().notes.at(0).tone, viewer::Tone::bad);
    EXPECT_NE(tool.overlay().notes.at(0).text.find("V20"), std::string::npos);
    b.picture("taken");
    b.release(to);
    ASSERT_EQ(b.refused.size(), 1U);
    EXPECT_NE(b.refused[0].find("Hole V20 is already used by block 2"), std::string::npos) << b.refused[0];
    EXPECT_EQ(b.callout(1), "V6 S 4 · plate 100");
    EXPECT_FALSE(b.session.can_undo());
    EXPECT_EQ(b.session.shown(), b.session.share());
    EXPECT_TRUE(b.bench.tool().overlay().hidden.empty());
}

TEST(SelectTool, ABlockThatRunsIntoAPieceIsShownAndMayBeSet) {
    Bench b("D1");
    const QPointF from = b.on(1), to = from + b.pixels(0, -50);
    b.press(from);
    b.move(from + b.pixels(0, -20));
    b.move(to);
    const auto& tool = dynamic_cast<const SelectTool&>(b.bench.tool());
    ASSERT_TRUE(tool.drag());
    EXPECT_TRUE(tool.drag()->probed().blocked);
    EXPECT_FALSE(tool.drag()->probed().why.empty());
    EXPECT_EQ(tool.overlay().ghosts.at(0).tone, viewer::Tone::bad);
    b.picture("collides");
    b.release(to);
    EXPECT_EQ(b.callout(1), "U6 S 4 · plate 100");
    EXPECT_TRUE(b.refused.empty());
}

TEST(SelectTool, EscapePutsADraggedBlockBack) {
    Bench b("D1");
    const QPointF from = b.on(1);
    b.press(from);
    b.move(from + b.pixels(300, 0));
    EXPECT_NE(b.session.shown(), b.session.share());
    b.key(Qt::Key_Escape);
    EXPECT_EQ(b.session.shown(), b.session.share());
    b.release(from + b.pixels(300, 0));
    EXPECT_TRUE(setup::same(b.session.now(), sample("D1")));
    EXPECT_FALSE(b.session.can_undo());
}

TEST(SelectTool, AHostCarriesWhatStandsOnIt) {
    Bench b("D1");
    const Vec3 host = b.stands(b.block(11)), low = b.stands(b.block(12)), high = b.stands(b.block(20));
    const QPointF from = b.on(11);
    b.press(from);
    b.move(from + b.pixels(0, -30));
    b.move(from + b.pixels(0, -100));
    const auto& tool = dynamic_cast<const SelectTool&>(b.bench.tool());
    ASSERT_TRUE(tool.drag());
    EXPECT_EQ(tool.drag()->probed().guests.size(), 2U);
    EXPECT_EQ(tool.overlay().ghosts.size(), 3U);
    b.picture("guests");
    b.release(from + b.pixels(0, -100));
    ASSERT_TRUE(b.refused.empty()) << b.refused[0];
    const Vec3 by = b.stands(b.block(11)) - host;
    EXPECT_NEAR(by.y(), -100, base::limits::coincident_mm);
    EXPECT_NEAR((b.stands(b.block(12)) - low - by).norm(), 0, base::limits::coincident_mm);
    EXPECT_NEAR((b.stands(b.block(20)) - high - by).norm(), 0, base::limits::coincident_mm);
}

TEST(SelectTool, AClickSelectsAndAClickBesideClears) {
    Bench b("D1");
    b.click(b.on(1));
    EXPECT_EQ(b.session.selection().placements, std::set{b.block(1)});
    QTest::mouseClick(b.bench.windowHandle(), Qt::LeftButton, Qt::ShiftModifier, b.in_window(b.on(2)));
    Bench::settle();
    EXPECT_EQ(b.session.selection().placements, (std::set{b.block(1), b.block(2)}));
    b.bench.view().fit();
    b.click(b.bench.view().to_widget(Vec3(2300, 100, 0)));
    EXPECT_TRUE(b.session.selection().empty());
    EXPECT_FALSE(b.session.can_undo());
}

TEST(SelectTool, ADoubleClickAsksForTheCallout) {
    Bench b("D1");
    const QSignalSpy asked(&b.bench, &Workbench::wants_callout);
    QTest::mouseDClick(b.bench.windowHandle(), Qt::LeftButton, {}, b.in_window(b.on(1)));
    Bench::settle();
    EXPECT_EQ(asked.count(), 1);
    EXPECT_EQ(b.session.selection().placements, std::set{b.block(1)});
}

TEST(SelectTool, EachKeyIsOneEditOfTheSelectedBlock) {
    Bench b("D1");
    b.click(b.on(1));
    b.key(Qt::Key_Right);
    EXPECT_EQ(b.callout(1), "V7 S 4 · plate 100");
    b.key(Qt::Key_Plus);
    EXPECT_EQ(b.callout(1), "V7 S 5 · plate 100");
    b.key(Qt::Key_Minus);
    b.key(Qt::Key_Minus);
    EXPECT_EQ(b.callout(1), "V7 S 3 · plate 100");
    b.key(Qt::Key_Up);
    EXPECT_EQ(b.callout(1), "W7 S 3 · plate 100");
    b.key(Qt::Key_R);
    EXPECT_EQ(b.callout(1), "W7 SE 3 · plate 100 · second X6");
    b.key(Qt::Key_R, Qt::ShiftModifier);
    EXPECT_EQ(b.callout(1), "W7 S 3 · plate 100");
    b.key(Qt::Key_Left, Qt::ControlModifier);
    EXPECT_EQ(b.callout(1), "W2 S 3 · plate 100");
    EXPECT_EQ(b.words(b.session.undo_label()), "move block 1");

    // A stop has no other hand: said, not done.
    const auto said = b.said.size();
    b.key(Qt::Key_H);
    EXPECT_EQ(b.said.size(), said + 1);
    EXPECT_EQ(b.callout(1), "W2 S 3 · plate 100");

    int edits = 0;
    for (; b.session.can_undo(); ++edits) b.session.undo();
    EXPECT_EQ(edits, 8);
    EXPECT_TRUE(setup::same(b.session.now(), sample("D1")));
}

TEST(SelectTool, ArrowKeysGoTheWayTheyPointInThePicture) {
    // One who stands in the north has the west at the right hand, one in the east the north.
    Bench b("D1");
    b.session.select({{b.block(4)}, {}, {}});
    ASSERT_EQ(b.callout(4), "T7");
    b.bench.view().look(viewer::Direction::north);
    b.key(Qt::Key_Right);
    EXPECT_EQ(b.callout(4), "T6");
    b.bench.view().look(viewer::Direction::east);
    b.key(Qt::Key_Right);
    EXPECT_EQ(b.callout(4), "U6");
    b.bench.view().look(viewer::Direction::west);
    b.key(Qt::Key_Right);
    EXPECT_EQ(b.callout(4), "T6");
    b.bench.view().look(viewer::Direction::above);
    b.key(Qt::Key_Right);
    EXPECT_EQ(b.callout(4), "T7");

    // Block 12 stands on the face of block 11: right there stays right.
    b.session.select({{b.block(12)}, {}, {}});
    ASSERT_EQ(b.callout(12), "11:B1");
    b.bench.view().look(viewer::Direction::north);
    b.key(Qt::Key_Right);
    EXPECT_EQ(b.callout(12), "11:B2");
}

TEST(SelectTool, PackersGoUnderByKeyAndLeaveNoOtherDefinitionsBehind) {
    Bench b("D1");
    b.session.select({{b.block(13)}, {}, {}});
    ASSERT_EQ(b.callout(13), "K11 · under 5");
    b.key(Qt::Key_P);
    EXPECT_NE(b.callout(13), "K11 · under 5");
    EXPECT_EQ(b.callout(13).find("K11 · under "), 0U);
    b.key(Qt::Key_P, Qt::ShiftModifier);
    EXPECT_EQ(b.callout(13), "K11 · under 5");
    EXPECT_TRUE(setup::same(b.session.now(), sample("D1")));
}

TEST(SelectTool, ABlockThatCarriesOthersIsRemovedOnlyWithThem) {
    Bench b("D1");
    b.click(b.on(11));
    b.key(Qt::Key_Delete);
    ASSERT_EQ(b.refused.size(), 1U);
    EXPECT_NE(b.refused[0].find("12"), std::string::npos) << b.refused[0];
    const auto before = b.session.in_stage().placements.size();
    b.session.select({{b.block(11), b.block(12), b.block(20)}, {}, {}});
    b.key(Qt::Key_Delete);
    EXPECT_EQ(b.session.in_stage().placements.size(), before - 3);
    EXPECT_EQ(b.words(b.session.undo_label()), "remove 3 blocks");
    EXPECT_TRUE(b.session.selection().empty());
    b.session.undo();
    EXPECT_TRUE(setup::same(b.session.now(), sample("D1")));
}

TEST(PlaceTool, AClickSetsAComponentAndTheNextOneIsInHand) {
    Bench b("D1");
    b.bench.take(std::make_unique<PlaceTool>(b.desk, component("m50-index-stop")));
    const QPointF at = b.bench.view().to_widget(Vec3(1500, 300, 0));
    b.move(at);
    b.picture("place");
    b.click(at);
    EXPECT_EQ(b.callout(25).find("G31 E"), 0U) << b.callout(25);
    EXPECT_EQ(b.bench.tool().name(), "place");
    const auto& tool = dynamic_cast<const PlaceTool&>(b.bench.tool());
    EXPECT_TRUE(tool.overlay().ghosts.empty()) << "the next one waits until the pointer goes on";
    // The keys go to the one in hand, and its choices stay for the next.
    b.move(at + b.pixels(150, 0));
    b.key(Qt::Key_R);
    b.click(at + b.pixels(150, 0));
    EXPECT_EQ(b.callout(26).find("G34 N"), 0U) << b.callout(26);
    b.key(Qt::Key_Escape);
    EXPECT_EQ(b.bench.tool().name(), "select");
    EXPECT_TRUE(b.refused.empty());
    // Only what is used is defined in the job.
    for (const auto& [id, known] : b.session.now().components)
        EXPECT_TRUE(known->family != shop::Family::packer || sample("D1").components.contains(id)) << id;
    b.session.undo();
    b.session.undo();
    EXPECT_FALSE(b.session.can_undo());
    EXPECT_TRUE(setup::same(b.session.now(), sample("D1")));
}

TEST(PlaceTool, AFaceWithHolesCarriesItSeenFromTheSide) {
    Bench b("D1");
    // The angle plate 15 looks south with its holes.
    b.bench.view().look(viewer::Direction::south);
    b.bench.view().fit();
    const setup::Host face{setup::Host::Kind::placement, b.block(15), "front", {}, {}, shop::TableSide::south};
    const setup::HostGrid grid = *setup::host_grid(b.session.now(), b.session.in_stage(), face);
    const viewer::Scene scene = viewer::make_scene(b.session.now(), b.session.stage(), b.shapes);
    std::optional<QPointF> at;
    for (int row = 0; row < grid.rows && !at; ++row)
        for (int col = 0; col < grid.cols && !at; ++col) {
            const QPointF hole =
                b.bench.view().to_widget(grid.X_TH * Vec3(col * grid.pitch_x_mm, row * grid.pitch_y_mm, 0));
            const viewer::Picked picked = viewer::pick(scene, b.bench.view().ray(hole));
            if (picked.placement() && *picked.placement() == face.placement) at = hole;
        }
    ASSERT_TRUE(at) << "no hole of the face is to be seen";
    b.bench.take(std::make_unique<PlaceTool>(b.desk, component("m50-rest-25")));
    b.move(*at);
    const auto& tool = dynamic_cast<const PlaceTool&>(b.bench.tool());
    ASSERT_TRUE(tool.drag() && tool.drag()->seat());
    EXPECT_EQ(tool.drag()->seat()->host, face);
    b.picture("on_face");
}

TEST(PlaceTool, TheHintSaysWhatTheShelfIsShortOf) {
    Bench b("D1");
    auto none = sample("D1");
    none.shelf.count["m50-index-stop"] = 0;
    const int used = 4;
    b.session.open(none, "", false);
    const PlaceTool tool(b.desk, component("m50-index-stop"));
    EXPECT_NE(tool.hint().indexOf(QString::number(used + 1)), -1) << tool.hint().toStdString();
    none.shelf.count["m50-index-stop"] = used + 1;
    b.session.open(none, "", false);
    EXPECT_EQ(PlaceTool(b.desk, component("m50-index-stop")).hint().indexOf("short"), -1);
}

TEST(Workbench, ADropFromTheShelfSetsOneAndIsDone) {
    Bench b("D1");
    QMimeData data;
    data.setData(component_mime, "m50-rest-50");
    const QPointF at = b.bench.view().mapTo(&b.bench, b.bench.view().to_widget(Vec3(1500, 300, 0)));
    QDragEnterEvent enter(at.toPoint(), Qt::CopyAction, &data, Qt::LeftButton, Qt::NoModifier);
    QCoreApplication::sendEvent(&b.bench, &enter);
    EXPECT_TRUE(enter.isAccepted());
    QDragMoveEvent move(at.toPoint(), Qt::CopyAction, &data, Qt::LeftButton, Qt::NoModifier);
    QCoreApplication::sendEvent(&b.bench, &move);
    Bench::settle();
    EXPECT_EQ(b.bench.tool().name(), "place");
    EXPECT_FALSE(b.bench.tool().overlay().ghosts.empty());
    QDropEvent drop(at, Qt::CopyAction, &data, Qt::LeftButton, Qt::NoModifier);
    QCoreApplication::sendEvent(&b.bench, &drop);
    Bench::settle();
    EXPECT_EQ(b.bench.tool().name(), "select");
    EXPECT_EQ(b.callout(25), "G31");
}

TEST(Workbench, ADragThatLeavesSetsNothing) {
    Bench b("D1");
    b.bench.drag_from_shelf(component("m50-rest-50"), QPointF(400, 300));
    Bench::settle();
    EXPECT_NE(b.session.shown(), b.session.share());
    b.bench.leave_from_shelf();
    Bench::settle();
    EXPECT_EQ(b.bench.tool().name(), "select");
    EXPECT_EQ(b.session.shown(), b.session.share());
    EXPECT_FALSE(b.session.can_undo());
}

TEST(Workbench, ShowsWhatIsSelectedAndWhatStillMoves) {
    Bench b("D1");
    QSignalSpy reported(&b.checker, &Checker::reported);
    ASSERT_TRUE(b.checker.is_current() || reported.wait(20000));
    b.picture("rest");
    const QImage nothing = b.bench.view().picture();
    b.session.select({{b.block(1)}, {}, {}});
    Bench::settle();
    EXPECT_NE(b.bench.view().picture(), nothing);
    b.picture("selected");
    EXPECT_FALSE(b.bench.overlay().touches.empty());
    EXPECT_EQ(b.bench.overlay().measures.size(), 1U);

    // P1 without the block at its end can slide.
    b.session.select({{b.block(3)}, {}, {}});
    b.key(Qt::Key_Delete);
    b.session.select({{}, {b.piece("P1")}, {}});
    ASSERT_TRUE(reported.wait(20000));
    Bench::settle();
    ASSERT_EQ(b.bench.overlay().motions.size(), 1U);
    EXPECT_FALSE(b.bench.overlay().motions[0].turns);
    EXPECT_NEAR(std::abs(b.bench.overlay().motions[0].axis.x()), 1, 1e-6);
    b.picture("moves");
    b.session.select({});
    b.bench.point_out(Vec3(500, 500, 0), "Block 7 runs into P3: move it, or choose a smaller one.");
    b.picture("pointed_out");
    EXPECT_EQ(b.bench.overlay().spots.size(), 1U);
    EXPECT_EQ(b.bench.overlay().notes.size(), 1U);
}

TEST(LayTool, AClickPutsAFaceDown) {
    Bench b("D1");
    b.bench.take(std::make_unique<LayTool>(b.desk));
    ASSERT_EQ(b.session.in_stage().lay.side_down, "-Y");
    const PieceId p1 = b.piece("P1");
    const weldment::Piece& piece = *b.session.now().find_piece(p1);
    // Beside its middle, where a clamp presses.
    const Vec3 middle = b.session.in_stage().lay.X_TM * (piece.X_MP * piece.solid->centroid) + Vec3(150, 0, 0);
    const QPointF at = b.on(p1, middle);
    b.move(at);
    ASSERT_TRUE(b.bench.tool().overlay().face);
    EXPECT_EQ(b.bench.tool().overlay().face->first, p1);
    b.picture("lay");
    b.click(at);
    // Its top looked up: now that side is down.
    EXPECT_EQ(b.session.in_stage().lay.side_down, "+Y");
    EXPECT_EQ(b.words(b.session.undo_label()), "put a face of P1 down");
    b.session.undo();
    EXPECT_TRUE(setup::same(b.session.now(), sample("D1")));
}

TEST(LayTool, ADragMovesTheWeldmentInStepsOfTheMarks) {
    Bench b("D1");
    b.bench.take(std::make_unique<LayTool>(b.desk));
    EXPECT_DOUBLE_EQ(LayTool::step_mm(b.session), 5);
    const PieceId p1 = b.piece("P1");
    const weldment::Piece& piece = *b.session.now().find_piece(p1);
    // Beside its middle, where a clamp presses.
    const Vec3 middle = b.session.in_stage().lay.X_TM * (piece.X_MP * piece.solid->centroid) + Vec3(150, 0, 0);
    const Vec3 before = setup::laid_box(b.session.now(), b.session.in_stage()).min;
    const QPointF from = b.on(p1, middle);
    b.press(from);
    b.move(from + b.pixels(60, 30));
    b.move(from + b.pixels(123, 62));
    b.picture("lay_drag");
    EXPECT_EQ(setup::laid_box(b.session.now(), b.session.in_stage()).min, before);
    b.release(from + b.pixels(123, 62));
    const Vec3 by = setup::laid_box(b.session.now(), b.session.in_stage()).min - before;
    // A pixel is about 2.5 mm here.
    EXPECT_NEAR(by.x(), 123, 6);
    EXPECT_NEAR(by.y(), 62, 6);
    for (int i = 0; i < 3; ++i) EXPECT_NEAR(by[i], 5 * std::round(by[i] / 5), base::limits::coincident_mm);
    b.session.undo();
    EXPECT_FALSE(b.session.can_undo());
}

TEST(LayTool, KeysMoveByOneHoleOrOneMarkAndTurn) {
    Bench b("D1");
    b.bench.take(std::make_unique<LayTool>(b.desk));
    const auto corner = [&] { return setup::laid_box(b.session.now(), b.session.in_stage()).min; };
    const Vec3 start = corner();
    b.key(Qt::Key_Right);
    EXPECT_NEAR((corner() - start - Vec3(50, 0, 0)).norm(), 0, 1e-6);
    b.key(Qt::Key_Down, Qt::ShiftModifier);
    EXPECT_NEAR((corner() - start - Vec3(50, -5, 0)).norm(), 0, 1e-6);
    b.key(Qt::Key_PageUp);
    EXPECT_NEAR((corner() - start - Vec3(50, -5, 5)).norm(), 0, 1e-6);
    b.key(Qt::Key_PageDown, Qt::ShiftModifier);
    EXPECT_NEAR((corner() - start - Vec3(50, -5, 4)).norm(), 0, 1e-6);
    const double yaw = b.session.in_stage().lay.yaw_deg;
    b.key(Qt::Key_R);
    EXPECT_NEAR(std::fmod(b.session.in_stage().lay.yaw_deg - yaw + 360, 360), 90, 1e-6);
    b.key(Qt::Key_R, Qt::ControlModifier);
    EXPECT_NEAR(std::fmod(b.session.in_stage().lay.yaw_deg - yaw + 360, 360), 105, 1e-6);
    for (int edits = 0; edits < 6; ++edits) b.session.undo();
    EXPECT_FALSE(b.session.can_undo());
    EXPECT_TRUE(setup::same(b.session.now(), sample("D1")));
}

TEST(TouchTool, AFaceOffersTheSeatsThatTouchItAndANumberSetsOne) {
    Bench b("D1");
    auto owned = std::make_unique<TouchTool>(b.desk, component("m50-index-stop"));
    TouchTool& tool = *owned;
    b.bench.take(std::move(owned));
    QSignalSpy offered(&tool, &TouchTool::offered);
    // The north face of P1, edge-on in the plan; pointed at from just beside it.
    const PieceId p1 = b.piece("P1");
    const weldment::Piece& piece = *b.session.now().find_piece(p1);
    const space::Pose X_TP = b.session.in_stage().lay.X_TM * piece.X_MP;
    int north = -1;
    for (std::size_t i = 0; i < piece.solid->faces.size(); ++i) {
        const space::Face& face = piece.solid->faces[i];
        if (face.surface.kind == space::SurfaceKind::plane && X_TP.turn(face.surface.axis).y() > 0.999 &&
            (north < 0 || face.area_mm2 > piece.solid->faces[static_cast<std::size_t>(north)].area_mm2))
            north = static_cast<int>(i);
    }
    ASSERT_GE(north, 0);
    const Vec3 at = X_TP * piece.solid->faces[static_cast<std::size_t>(north)].centroid + Vec3(150, 0, 0);
    const QPointF pixel = b.bench.view().to_widget(at) - QPointF(0, 1);
    b.move(pixel);
    ASSERT_TRUE(tool.overlay().face);
    EXPECT_EQ(*tool.overlay().face, std::pair(p1, north));
    offered.clear();
    b.click(pixel);
    while (tool.offers().empty() && offered.wait(20000)) {
    }
    ASSERT_FALSE(tool.offers().empty());
    EXPECT_LE(tool.offers().size(), 12U);
    b.picture("touch");
    std::set<std::tuple<PlacementId, std::string, shop::Hole>> holes;
    for (const Offer& offer : tool.offers())
        EXPECT_TRUE(holes.emplace(offer.seat.host.placement, offer.seat.host.face, offer.seat.hole).second)
            << offer.callout << " is offered twice";
    int free_and_exact = -1;
    for (std::size_t i = 0; i < tool.offers().size(); ++i) {
        const Offer& offer = tool.offers()[i];
        EXPECT_EQ(offer.exact, std::abs(offer.gap_mm) <= base::limits::exact_face_mm);
        EXPECT_FALSE(offer.callout.empty());
        EXPECT_EQ(offer.probed.blocked, !offer.probed.why.empty());
        if (offer.exact && !offer.probed.blocked && free_and_exact < 0) free_and_exact = static_cast<int>(i);
    }
    ASSERT_GE(free_and_exact, 0);
    ASSERT_LT(free_and_exact, 9);
    tool.preview(free_and_exact);
    EXPECT_EQ(tool.overlay().ghosts.size(), 1U);
    b.picture("touch_free");
    const std::string callout = tool.offers()[static_cast<std::size_t>(free_and_exact)].callout;
    b.key(static_cast<Qt::Key>(Qt::Key_1 + free_and_exact));
    EXPECT_EQ(b.callout(25), callout);
    EXPECT_TRUE(tool.offers().empty());
    // By the checks, it does touch that face.
    std::vector<setup::Posed> posed;
    for (const setup::Placement& placement : b.session.in_stage().placements)
        posed.push_back(*setup::pose(b.session.now(), b.session.in_stage(), placement));
    const auto touching = check::contacts(b.session.now(), b.session.in_stage(), posed);
    EXPECT_TRUE(std::any_of(touching.begin(), touching.end(), [&](const check::Contact& contact) {
        return contact.placement == b.block(25) && contact.piece == p1 && contact.piece_face == north;
    }));
}

/// Undo all equals the start, redo all the end, whatever mouse and keys have done.
TEST(Tools, AnyEditsCanBeUndoneAndRedone) {
    for (const char* name : {"D1", "D2"}) {
        Bench b(name);
        std::mt19937 random(7);
        const auto upto = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n)); };
        constexpr std::array<Qt::Key, 12> keys{Qt::Key_R,  Qt::Key_H,    Qt::Key_Plus,   Qt::Key_Minus,
                                               Qt::Key_P,  Qt::Key_F,    Qt::Key_Left,   Qt::Key_Right,
                                               Qt::Key_Up, Qt::Key_Down, Qt::Key_PageUp, Qt::Key_Delete};
        for (int act = 0; act < 40; ++act) {
            const auto& placements = b.session.in_stage().placements;
            if (placements.empty()) break;
            const int which = upto(static_cast<int>(placements.size()));
            const PlacementId id = placements[static_cast<std::size_t>(which)].id;
            if (act % 3 == 0) {
                const QPointF from = b.bench.view().to_widget(b.stands(id));
                b.drag(from, from + b.pixels(upto(400) - 200, upto(400) - 200));
            } else {
                b.session.select({{id}, {}, {}});
                b.key(keys[static_cast<std::size_t>(upto(static_cast<int>(keys.size())))]);
            }
            ASSERT_EQ(b.session.shown(), b.session.share()) << name << " after act " << act;
        }
        const Job end = b.session.now();
        int edits = 0;
        for (; b.session.can_undo(); ++edits) b.session.undo();
        EXPECT_GT(edits, 10) << name;
        EXPECT_TRUE(setup::same(b.session.now(), sample(name))) << name;
        while (b.session.can_redo()) b.session.redo();
        EXPECT_TRUE(setup::same(b.session.now(), end)) << name;
    }
}

}  // namespace

}  // namespace setwright::app

int main(int argc, char** argv) {
    qputenv("QT_QPA_PLATFORM", "offscreen");
    qputenv("SETWRIGHT_WORKER", SETWRIGHT_WORKER);
    ::testing::InitGoogleTest(&argc, argv);
    QApplication application(argc, argv);
    return RUN_ALL_TESTS();
}
