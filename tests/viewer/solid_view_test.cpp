#include "viewer/solid_view.h"

#include <gtest/gtest.h>

#include <QApplication>
#include <QFile>
#include <QSignalSpy>
#include <QTest>
#include <cstdio>
#include <set>

#include "sample_job.h"

/// Run under an X server with GLX; skipped where there is none. Pictures are compared by how much of a colour they
/// show, never byte by byte: OpenGL may round as it likes.
namespace setwright::viewer {

namespace {

/// Colours far apart, so that a count of pixels says what is drawn. No light falls on the marks.
Palette signal_colours() {
    Palette p = Palette::light();
    p.ground = QColor(255, 255, 255);
    p.piece = QColor(255, 0, 0);
    p.piece_edge = QColor(120, 0, 0);
    p.placement = QColor(0, 0, 255);
    p.placement_edge = QColor(0, 0, 120);
    p.locked = QColor(0, 200, 200);
    p.selected = QColor(0, 255, 0);
    p.good = QColor(255, 0, 255);
    return p;
}

/// Pixels in which the channels that are said to be high are well above those said to be low.
int pixels(const QImage& picture, bool red, bool green, bool blue) {
    int count = 0;
    for (int y = 0; y < picture.height(); ++y)
        for (int x = 0; x < picture.width(); ++x) {
            const QRgb c = picture.pixel(x, y);
            int high = 255, low = 0;
            for (const auto& [wanted, value] :
                 {std::pair{red, qRed(c)}, std::pair{green, qGreen(c)}, std::pair{blue, qBlue(c)}}) {
                if (wanted) high = std::min(high, value);
                if (!wanted) low = std::max(low, value);
            }
            if (high > low + 40) ++count;
        }
    return count;
}
int red(const QImage& picture) {
    return pixels(picture, true, false, false);
}
int blue(const QImage& picture) {
    return pixels(picture, false, false, true);
}
int green(const QImage& picture) {
    return pixels(picture, false, true, false);
}
int magenta(const QImage& picture) {
    return pixels(picture, true, false, true);
}

/// Share of the pixels that differ by more than rounding.
double difference(const QImage& a, const QImage& b) {
    if (a.size() != b.size() || a.isNull()) return 1;
    int count = 0;
    for (int y = 0; y < a.height(); ++y)
        for (int x = 0; x < a.width(); ++x) {
            const QRgb p = a.pixel(x, y), q = b.pixel(x, y);
            if (std::abs(qRed(p) - qRed(q)) > 8 || std::abs(qGreen(p) - qGreen(q)) > 8 ||
                std::abs(qBlue(p) - qBlue(q)) > 8)
                ++count;
        }
    return static_cast<double>(count) / (a.width() * a.height());
}

/// Without words, which would cover what is counted.
Scene plain_scene() {
    Scene scene = small_scene();
    for (auto& [id, item] : scene.items) item.label.clear();
    return scene;
}

class SolidViewOnX : public ::testing::Test {
  protected:
    void SetUp() override {
        if (!SolidView::available()) GTEST_SKIP() << "no X server with GLX";
    }
    static std::unique_ptr<SolidView> shown(const Scene& scene, const QSize& size = {640, 480}) {
        auto view = std::make_unique<SolidView>();
        view->resize(size);
        view->set_palette(signal_colours());
        view->show_scene(scene);
        view->show();
        EXPECT_TRUE(QTest::qWaitForWindowExposed(view.get()));
        EXPECT_TRUE(QTest::qWaitFor([&] { return !view->picture().isNull(); }));
        return view;
    }
};

}  // namespace

TEST_F(SolidViewOnX, RayGoesThroughThePointThatIsDrawnThere) {
    const auto view = shown(plain_scene());
    for (const Direction from : {Direction::above, Direction::south, Direction::east, Direction::north, Direction::west,
                                 Direction::below, Direction::corner}) {
        view->look(from);
        for (const Vec3& p : {Vec3(0, 0, 0), Vec3(375, 225, 100), Vec3(123.4, -56.7, 89.1)}) {
            const Ray ray = view->ray(view->to_widget(p));
            EXPECT_NEAR(ray.direction_T.norm(), 1, 1e-12);
            EXPECT_NEAR((p - ray.origin_T).cross(ray.direction_T).norm(), 0, 1e-6);
            EXPECT_GT((p - ray.origin_T).dot(ray.direction_T), 0) << "the eye is in front of the scene";
        }
    }
}

TEST_F(SolidViewOnX, PointsAreDrawnWhereToWidgetSays) {
    const auto view = shown(plain_scene());
    for (const Direction from : {Direction::above, Direction::south, Direction::corner}) {
        view->look(from);
        const QImage picture = view->picture();
        // A point of the block's face that this look shows.
        const Vec3 on_block = from == Direction::south ? Vec3(375, 200, 80) : Vec3(375, 225, 100);
        const QRgb there = picture.pixel(view->to_widget(on_block).toPoint());
        EXPECT_GT(qBlue(there), qRed(there) + 60);
        const QRgb beside = picture.pixel(view->to_widget(on_block + Vec3(0, 0, 130)).toPoint());
        if (from != Direction::above) {
            EXPECT_LT(qBlue(beside) - qRed(beside), 20);
        }
    }
}

TEST_F(SolidViewOnX, EachLookShowsItsOwnSide) {
    const auto view = shown(plain_scene());
    struct Side {
        Direction from;
        Vec3 to_the_right, upward;
    };
    for (const Side& side :
         {Side{Direction::above, Vec3::UnitX(), Vec3::UnitY()}, Side{Direction::south, Vec3::UnitX(), Vec3::UnitZ()},
          Side{Direction::east, Vec3::UnitY(), Vec3::UnitZ()}, Side{Direction::north, -Vec3::UnitX(), Vec3::UnitZ()},
          Side{Direction::west, -Vec3::UnitY(), Vec3::UnitZ()},
          Side{Direction::below, Vec3::UnitX(), -Vec3::UnitY()}}) {
        view->look(side.from);
        EXPECT_EQ(view->looking(), side.from);
        const QPointF origin = view->to_widget(Vec3::Zero());
        const QPointF right = view->to_widget(side.to_the_right * 100) - origin;
        const QPointF up = view->to_widget(side.upward * 100) - origin;
        EXPECT_NEAR(right.x(), 100 / view->mm_per_pixel(), 1e-6);
        EXPECT_NEAR(right.y(), 0, 1e-6);
        EXPECT_NEAR(up.x(), 0, 1e-6);
        EXPECT_NEAR(up.y(), -100 / view->mm_per_pixel(), 1e-6);
    }
}

TEST_F(SolidViewOnX, ZoomKeepsThePointUnderThePointer) {
    const auto view = shown(plain_scene());
    const Vec3 point(375, 225, 100);
    const QPointF at = view->to_widget(point);
    const double before = view->mm_per_pixel();
    view->zoom(2, at);
    EXPECT_NEAR(view->mm_per_pixel(), before / 2, 1e-9);
    EXPECT_NEAR(view->to_widget(point).x(), at.x(), 1e-6);
    EXPECT_NEAR(view->to_widget(point).y(), at.y(), 1e-6);
}

TEST_F(SolidViewOnX, TurningKeepsThePointThatWasPressedAndTheVertical) {
    const auto view = shown(plain_scene());
    const Vec3 top_of_block(375, 225, 100);
    const QPointF at = view->to_widget(top_of_block);
    QTest::mousePress(view.get(), Qt::RightButton, {}, at.toPoint());
    QMouseEvent move(QEvent::MouseMove, at + QPointF(60, 25), view->mapToGlobal(at + QPointF(60, 25)), Qt::NoButton,
                     Qt::RightButton, {});
    QApplication::sendEvent(view.get(), &move);
    QTest::mouseRelease(view.get(), Qt::RightButton, {}, at.toPoint() + QPoint(60, 25));
    // The press is on a whole pixel: within one pixel of the point, and deeper or higher by as much.
    EXPECT_NEAR(view->to_widget(top_of_block).x(), at.x(), 2);
    EXPECT_NEAR(view->to_widget(top_of_block).y(), at.y(), 2);
    const QPointF foot = view->to_widget(Vec3(375, 225, 0)), head = view->to_widget(top_of_block);
    EXPECT_NEAR(foot.x(), head.x(), 1e-6) << "upright stays upright";
    EXPECT_LT(head.y(), foot.y());
}

TEST_F(SolidViewOnX, DraggingWithTheMiddleButtonPans) {
    const auto view = shown(plain_scene());
    QSignalSpy moved(view.get(), &View::camera_moved);
    const QPointF before = view->to_widget(Vec3::Zero());
    QTest::mousePress(view.get(), Qt::MiddleButton, {}, QPoint(300, 200));
    QMouseEvent move(QEvent::MouseMove, QPointF(340, 170), view->mapToGlobal(QPointF(340, 170)), Qt::NoButton,
                     Qt::MiddleButton, {});
    QApplication::sendEvent(view.get(), &move);
    QTest::mouseRelease(view.get(), Qt::MiddleButton, {}, QPoint(340, 170));
    EXPECT_NEAR(view->to_widget(Vec3::Zero()).x(), before.x() + 40, 1e-6);
    EXPECT_NEAR(view->to_widget(Vec3::Zero()).y(), before.y() - 30, 1e-6);
    EXPECT_GE(moved.count(), 1);
}

TEST_F(SolidViewOnX, FitShowsTheWholeTableOrTheBoxAsked) {
    const auto view = shown(plain_scene());
    const QRectF widget(QPointF(0, 0), QSizeF(view->size()));
    view->fit();
    for (const double x : {-25.0, 475.0})
        for (const double y : {-50.0, 350.0}) EXPECT_TRUE(widget.contains(view->to_widget(Vec3(x, y, 0))));
    const double all = view->mm_per_pixel();
    space::Aabb block_only;
    block_only.add(Vec3(350, 200, 0));
    block_only.add(Vec3(400, 250, 100));
    view->fit(block_only);
    EXPECT_LT(view->mm_per_pixel(), all / 3);
    const QPointF middle = view->to_widget(block_only.centre());
    EXPECT_NEAR(middle.x(), widget.center().x(), 1);
    EXPECT_NEAR(middle.y(), widget.center().y(), 1);
}

TEST_F(SolidViewOnX, UpdatedSceneLooksLikeTheSameSceneShownAnew) {
    Scene moved = plain_scene();
    moved.items[block].X_TS = Pose::move(175, 325, 0);
    moved.items[block].set_apart = true;
    moved.items.erase(ItemId{bar});
    const auto updated = shown(plain_scene());
    const QImage before = updated->picture();
    updated->show_scene(moved);
    const QImage after = updated->picture();
    const auto anew = shown(moved);
    EXPECT_GT(difference(before, after), 0.005);
    EXPECT_LT(difference(after, anew->picture()), 0.001);
}

TEST_F(SolidViewOnX, HiddenItemVanishesAndComesBack) {
    const auto view = shown(plain_scene());
    const int blue_before = blue(view->picture()), red_before = red(view->picture());
    ASSERT_GT(blue_before, 300);
    ASSERT_GT(red_before, 300);
    Overlay overlay;
    overlay.hidden.insert(block);
    view->show_overlay(overlay);
    EXPECT_EQ(blue(view->picture()), 0);
    EXPECT_GE(red(view->picture()), red_before);
    view->show_overlay({});
    EXPECT_EQ(blue(view->picture()), blue_before);
}

TEST_F(SolidViewOnX, ItemHiddenWhileTheSceneChangesStaysHidden) {
    const auto view = shown(plain_scene());
    Overlay overlay;
    overlay.hidden.insert(block);
    view->show_overlay(overlay);
    Scene moved = plain_scene();
    moved.items[block].set_apart = true;
    view->show_scene(moved);
    EXPECT_EQ(blue(view->picture()), 0);
    EXPECT_EQ(pixels(view->picture(), false, true, true), 0);
}

TEST_F(SolidViewOnX, SelectionIsMarkedAndFollowsItsItem) {
    const auto view = shown(plain_scene());
    view->look(Direction::above);
    ASSERT_EQ(green(view->picture()), 0);
    Overlay overlay;
    overlay.selected.insert(block);
    view->show_overlay(overlay);
    EXPECT_GT(green(view->picture()), 100);
    Scene moved = plain_scene();
    moved.items[block].X_TS = Pose::move(75, 325, 0);
    view->show_scene(moved);
    const QImage picture = view->picture();
    const QPoint corner = view->to_widget(Vec3(50, 300, 100)).toPoint();
    EXPECT_GT(green(picture.copy(QRect(corner - QPoint(4, 4), QSize(9, 9)))), 5);
}

TEST_F(SolidViewOnX, OnlyTheFaceAskedForIsMarked) {
    const auto view = shown(plain_scene());
    Overlay overlay;
    overlay.face = std::pair{bar, 5};
    view->show_overlay(overlay);
    const QImage picture = view->picture();
    const QRgb top = picture.pixel(view->to_widget(Vec3(200, 125, 50)).toPoint());
    const QRgb south = picture.pixel(view->to_widget(Vec3(200, 100, 25)).toPoint());
    EXPECT_GT(qGreen(top), 100);
    EXPECT_LT(qGreen(south), 60);
}

TEST_F(SolidViewOnX, GhostStandsWhereItIsDragged) {
    const auto view = shown(plain_scene());
    view->look(Direction::above);
    Overlay overlay;
    overlay.ghosts.push_back({small_scene().items[block].shape, Pose::move(75, 325, 0), Tone::good});
    view->show_overlay(overlay);
    const auto at = [&](const Vec3& p) {
        return magenta(view->picture().copy(QRect(view->to_widget(p).toPoint() - QPoint(10, 10), QSize(21, 21))));
    };
    EXPECT_GT(at(Vec3(75, 325, 100)), 200);
    overlay.ghosts[0].X_TS = Pose::move(425, 25, 0);
    view->show_overlay(overlay);
    EXPECT_EQ(at(Vec3(75, 325, 100)), 0);
    EXPECT_GT(at(Vec3(425, 25, 100)), 200);
}

TEST_F(SolidViewOnX, EveryMarkOfTheOverlayIsDrawnOverTheScene) {
    const auto view = shown(plain_scene());
    const QImage bare = view->picture();
    const Vec3 at(200, 125, 25);
    std::vector<std::pair<const char*, Overlay>> marks(8);
    marks[0].first = "measure";
    marks[0].second.measures.push_back({Vec3(0, 0, 30), Vec3(300, 0, 30), "300 mm", Tone::plain});
    marks[1].first = "touch";
    marks[1].second.touches.push_back({at, Vec3::UnitZ(), {}, Tone::good});
    marks[2].first = "spot";
    marks[2].second.spots.push_back({at, "1", Tone::plain});
    marks[3].first = "motion";
    marks[3].second.motions.push_back({at, Vec3::UnitX(), false});
    marks[4].first = "turn";
    marks[4].second.motions.push_back({at, Vec3::UnitZ(), true});
    marks[5].first = "note";
    marks[5].second.notes.push_back({at, "Pushes against 3\nand 5", Tone::warn});
    marks[6].first = "lines";
    marks[6].second.lines.push_back({Vec3(100, 100, 50), Vec3(300, 100, 50)});
    marks[7].first = "hole";
    marks[7].second.hole = shop::Hole{1, 1};
    for (const auto& [name, overlay] : marks) {
        view->show_overlay(overlay);
        EXPECT_GT(difference(bare, view->picture()), 1e-4) << name;
    }
    view->show_overlay({});
    EXPECT_LT(difference(bare, view->picture()), 1e-5);
}

TEST_F(SolidViewOnX, HoleRingStandsAroundItsHole) {
    const auto view = shown(plain_scene());
    view->look(Direction::above);
    Overlay overlay;
    overlay.hole = shop::Hole{2, 3};
    view->show_overlay(overlay);
    const QImage picture = view->picture();
    // Columns 50 and rows 100 apart; the hole's radius is 8.
    EXPECT_GT(green(picture.copy(QRect(view->to_widget(Vec3(108, 300, 0)).toPoint() - QPoint(2, 2), QSize(5, 5)))), 3);
}

TEST_F(SolidViewOnX, PaletteChangesEveryColour) {
    const auto view = shown(plain_scene());
    ASSERT_GT(red(view->picture()), 300);
    view->set_palette(Palette::dark());
    const QImage dark = view->picture();
    EXPECT_EQ(red(dark), 0);
    EXPECT_EQ(blue(dark), 0);
    EXPECT_NEAR(qRed(dark.pixel(2, 2)), Palette::dark().ground.red(), 3);
}

TEST_F(SolidViewOnX, ResizeKeepsPictureAndPointsTogether) {
    const auto view = shown(plain_scene());
    for (const QSize& size : {QSize(900, 500), QSize(400, 600), QSize(640, 480)}) {
        view->resize(size);
        QTest::qWait(30);
        const QImage picture = view->picture();
        EXPECT_EQ(picture.size(), size * view->devicePixelRatioF());
        const QRgb there = picture.pixel(view->to_widget(Vec3(375, 225, 100)).toPoint());
        EXPECT_GT(qBlue(there), qRed(there) + 60) << size.width();
    }
}

TEST_F(SolidViewOnX, WindowShowsWhatThePictureShows) {
    const auto view = shown(plain_scene());
    QTest::qWait(50);
    const QImage screen = view->screen()->grabWindow(view->winId()).toImage();
    EXPECT_LT(difference(screen.convertToFormat(QImage::Format_RGB888), view->picture()), 0.01);
}

TEST_F(SolidViewOnX, TwoViewsShowTheirOwnScenes) {
    Scene without_block = plain_scene();
    without_block.items.erase(ItemId{block});
    const auto one = shown(plain_scene());
    const auto other = shown(without_block);
    EXPECT_GT(blue(one->picture()), 300);
    EXPECT_EQ(blue(other->picture()), 0);
    EXPECT_GT(red(other->picture()), 300);
}

TEST_F(SolidViewOnX, SurvivesANewNativeWindow) {
    QWidget first, second;
    first.resize(640, 480);
    second.resize(640, 480);
    auto* view = new SolidView(&first);
    view->resize(640, 480);
    view->set_palette(signal_colours());
    view->show_scene(plain_scene());
    QSignalSpy failed(view, &SolidView::failed);
    first.show();
    ASSERT_TRUE(QTest::qWaitFor([&] { return !view->picture().isNull(); }));
    view->setParent(&second);
    view->show();
    second.show();
    ASSERT_TRUE(QTest::qWaitFor([&] { return !view->picture().isNull() && blue(view->picture()) > 300; }));
    EXPECT_EQ(failed.count(), 0);
}

TEST_F(SolidViewOnX, OpeningAndClosingTenTimesLeavesNothingBehind) {
    const auto open_files = [] {
        int count = 0;
        for (int fd = 0; fd < 256; ++fd)
            if (QFile::exists(QString("/proc/self/fd/%1").arg(fd))) ++count;
        return count;
    };
    // The first view loads the driver, which keeps what it opened.
    shown(plain_scene()).reset();
    const int before = open_files();
    for (int i = 0; i < 10; ++i) {
        const auto view = shown(plain_scene(), {320, 240});
        EXPECT_GT(blue(view->picture()), 50);
    }
    EXPECT_LE(open_files(), before + 1) << "each open display is a file";
    EXPECT_EQ(QApplication::topLevelWidgets().size(), 0);
}

TEST_F(SolidViewOnX, NoJobShowsBareGround) {
    auto view = std::make_unique<SolidView>();
    QSignalSpy failed(view.get(), &SolidView::failed);
    view->set_palette(signal_colours());
    view->show();
    ASSERT_TRUE(QTest::qWaitFor([&] { return !view->picture().isNull(); }));
    view->show_scene({});
    view->fit();
    view->show_overlay({});
    QImage ground(view->picture().size(), QImage::Format_RGB888);
    ground.fill(Qt::white);
    EXPECT_EQ(difference(view->picture(), ground), 0);
    view->show_scene(plain_scene());
    view->show_scene({});
    EXPECT_EQ(difference(view->picture(), ground), 0);
    QTest::qWait(20);
    EXPECT_EQ(failed.count(), 0);
}

TEST_F(SolidViewOnX, SampleJobIsDrawn) {
    ShapeBook book;
    const Job& job = sample_job("D2");
    const auto view = shown(make_scene(job, job.stages.front().id, book), {900, 600});
    EXPECT_GT(red(view->picture()), 1000);
    EXPECT_GT(blue(view->picture()), 500);
}

TEST(SolidView, IsNotAvailableWithoutAnX11Platform) {
    if (QGuiApplication::platformName() == "xcb") GTEST_SKIP() << "this is the X11 platform";
    EXPECT_FALSE(SolidView::available());
    // And shown all the same it says so, once, and does not end the program.
    SolidView view;
    QSignalSpy failed(&view, &SolidView::failed);
    view.show();
    EXPECT_TRUE(QTest::qWaitFor([&] { return failed.count() > 0; }, 2000));
    view.update();
    QTest::qWait(30);
    EXPECT_EQ(failed.count(), 1);
    EXPECT_TRUE(view.picture().isNull());
}

}  // namespace setwright::viewer
