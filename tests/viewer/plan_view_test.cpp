#include "viewer/plan_view.h"

#include <QApplication>
#include <QSignalSpy>
#include <QTest>
#include <QWheelEvent>

#include "tests/viewer/sample_job.h"
#include "viewer/plan_view_body.h"
#include "viewer/plan_view_camera.h"

namespace setwright::viewer {
namespace {

constexpr double exact = 1e-6;
constexpr Direction all_directions[] = {Direction::above, Direction::south, Direction::east,  Direction::north,
                                        Direction::west,  Direction::below, Direction::corner};

bool near(const QColor& a, const QColor& b, int tolerance = 40) {
    return std::abs(a.red() - b.red()) < tolerance && std::abs(a.green() - b.green()) < tolerance &&
           std::abs(a.blue() - b.blue()) < tolerance;
}

/// Pixels of about this colour within `r` of a place of the widget.
int count(const QImage& image, const QPointF& at, int r, const QColor& colour) {
    const double ratio = image.devicePixelRatio();
    int sum = 0;
    for (int y = static_cast<int>((at.y() - r) * ratio); y <= static_cast<int>((at.y() + r) * ratio); ++y)
        for (int x = static_cast<int>((at.x() - r) * ratio); x <= static_cast<int>((at.x() + r) * ratio); ++x)
            if (image.valid(x, y)) sum += near(image.pixelColor(x, y), colour);
    return sum;
}

QColor pixel(const QImage& image, const QPointF& at) {
    return image.pixelColor((at * image.devicePixelRatio()).toPoint());
}

/// How many pixels differ, all over the picture.
int differing(const QImage& a, const QImage& b) {
    int sum = 0;
    for (int y = 0; y < a.height(); ++y)
        for (int x = 0; x < a.width(); ++x) sum += a.pixel(x, y) != b.pixel(x, y);
    return sum;
}

struct Plan : ::testing::Test {
    PlanView view;
    Scene scene = small_scene();
    Palette palette = Palette::light();

    Plan() {
        view.resize(800, 600);
        view.show_scene(scene);
        view.fit();
    }
};

TEST_F(Plan, RaysAndPixelsAreEachOthersInverse) {
    for (const Direction from : all_directions) {
        view.look(from);
        view.zoom(1.7, QPointF(123, 45));
        for (const QPointF at : {QPointF(10, 20), QPointF(400, 300), QPointF(791.5, 577.25)}) {
            const Ray ray = view.ray(at);
            EXPECT_NEAR(ray.direction_T.norm(), 1, exact);
            for (const double t : {0.0, 500.0}) {
                const QPointF back = view.to_widget(ray.origin_T + t * ray.direction_T);
                EXPECT_NEAR(back.x(), at.x(), exact);
                EXPECT_NEAR(back.y(), at.y(), exact);
            }
        }
    }
}

TEST_F(Plan, EachSideIsLookedAtFromThatSide) {
    const std::map<Direction, Vec3> towards{{Direction::above, -Vec3::UnitZ()}, {Direction::below, Vec3::UnitZ()},
                                            {Direction::south, Vec3::UnitY()},  {Direction::north, -Vec3::UnitY()},
                                            {Direction::east, -Vec3::UnitX()},  {Direction::west, Vec3::UnitX()},
                                            {Direction::corner, -Vec3::UnitZ()}};
    for (const Direction from : all_directions) {
        view.look(from);
        EXPECT_EQ(view.looking(), from == Direction::corner ? Direction::above : from);
        EXPECT_EQ(view.ray(QPointF(100, 100)).direction_T, towards.at(from));
        // The eye is before everything, and sees something.
        const Picked picked = pick(scene, view.ray(view.to_widget(scene.box().centre())));
        EXPECT_NE(picked.kind, Picked::Kind::nothing);
    }
}

TEST_F(Plan, FromAboveEastIsRightAndNorthIsUp) {
    view.look(Direction::above);
    const QPointF o = view.to_widget(Vec3::Zero());
    const QPointF p = view.to_widget(Vec3(100, 50, 30));
    EXPECT_NEAR((p.x() - o.x()) * view.mm_per_pixel(), 100, exact);
    EXPECT_NEAR((o.y() - p.y()) * view.mm_per_pixel(), 50, exact);
    view.look(Direction::north);
    EXPECT_LT(view.to_widget(Vec3(100, 0, 0)).x(), view.to_widget(Vec3::Zero()).x()) << "east is left from the north";
    EXPECT_LT(view.to_widget(Vec3(0, 0, 100)).y(), view.to_widget(Vec3::Zero()).y()) << "up is up";
}

TEST_F(Plan, ZoomKeepsThePlaceUnderThePointer) {
    const QPointF at(613, 88);
    const Vec3 before = view.ray(at).origin_T;
    const double scale = view.mm_per_pixel();
    view.zoom(2.5, at);
    EXPECT_LT((view.ray(at).origin_T - before).norm(), exact);
    EXPECT_NEAR(view.mm_per_pixel(), scale / 2.5, exact);
    for (int i = 0; i < 100; ++i) view.zoom(10, at);
    EXPECT_GT(view.mm_per_pixel(), 0.001) << "there is an end to it";
    EXPECT_LT((view.ray(at).origin_T - before).norm(), exact);
}

TEST_F(Plan, FitShowsAllOfTheTableInsideTheWidget) {
    for (const Direction from : all_directions) {
        view.look(from);
        const space::Aabb box = scene.box();
        for (const Vec3& corner : {box.min, box.max}) {
            const QPointF at = view.to_widget(corner);
            EXPECT_TRUE(QRectF(0, 0, 800, 600).contains(at)) << at.x() << " " << at.y();
        }
    }
    view.look(Direction::above);
    space::Aabb small;
    small.add(Vec3(100, 100, 0));
    small.add(Vec3(110, 110, 0));
    view.fit(small);
    EXPECT_LT(view.mm_per_pixel(), 0.1);
    EXPECT_NEAR(view.to_widget(Vec3(105, 105, 0)).x(), 410, 30) << "in the middle, but for the ruler";
}

TEST_F(Plan, AResizeKeepsAllInSight) {
    view.resize(400, 300);
    const QPointF at = view.to_widget(scene.box().max);
    EXPECT_TRUE(QRectF(0, 0, 400, 300).contains(at));
}

TEST_F(Plan, ThePictureShowsWhatIsThere) {
    const QImage image = view.picture();
    // Off the middles, where names and numbers stand.
    EXPECT_GT(count(image, view.to_widget(Vec3(130, 125, 0)), 4, palette.piece), 60);
    EXPECT_GT(count(image, view.to_widget(Vec3(356, 206, 0)), 2, palette.placement), 15);
    EXPECT_GT(count(image, view.to_widget(Vec3(25, 50, 0)), 4, palette.table), 60);
    EXPECT_GT(count(image, view.to_widget(Vec3(0, 0, 0)), 3, palette.hole), 30);
    EXPECT_EQ(count(image, view.to_widget(Vec3(130, 125, 0)), 4, palette.table), 0);
}

TEST_F(Plan, TheNearerBodyCoversTheFarther) {
    scene.items[PieceId{5}] = {box_shape(Vec3(0, 0, 60), Vec3(60, 60, 80)), Pose::move(120, 95, 0), "over", true};
    view.show_scene(scene);
    EXPECT_GT(count(view.picture(), view.to_widget(Vec3(125, 105, 0)), 2, palette.piece_by_hand), 15);
    view.look(Direction::south);
    // From the south the bar, 100 from the edge, stands before what lies behind it at the same height.
    scene.items[PlacementId{6}] = {box_shape(Vec3(0, 0, 0), Vec3(60, 60, 40)), Pose::move(150, 300, 0), "6", false};
    view.show_scene(scene);
    EXPECT_EQ(count(view.picture(), view.to_widget(Vec3(190, 0, 12)), 2, palette.placement), 0);
}

TEST_F(Plan, OfTwoSlopingBarsEachCoversTheOtherWhereItIsHigher) {
    // A pair of scissors: both rise by 45°, one to the east and one to the west, crossing in plan all along.
    scene.items.clear();
    const auto sloping = [](double way) {
        return Pose::move(250, 150, 300) * Pose::turn_y(base::Angle::deg(way * 45)) * Pose::move(-200, -30, -10);
    };
    scene.items[bar] = {box_shape(Vec3::Zero(), Vec3(400, 60, 20)), sloping(-1), "", false};
    scene.items[block] = {box_shape(Vec3::Zero(), Vec3(400, 60, 20)), sloping(1), "", false};
    view.show_scene(scene);
    view.fit();
    const QImage image = view.picture();
    for (const double y : {128.0, 172.0}) {
        const QColor east = pixel(image, view.to_widget(Vec3(350, y, 0)));
        const QColor west = pixel(image, view.to_widget(Vec3(150, y, 0)));
        // Warm where the bar is on top, cool where the block is.
        EXPECT_GT(east.red(), east.blue());
        EXPECT_LT(west.red(), west.blue());
    }
}

TEST_F(Plan, FromBelowThePlateHidesWhatStandsOnIt) {
    view.look(Direction::below);
    EXPECT_EQ(count(view.picture(), view.to_widget(Vec3(130, 125, 0)), 4, palette.piece), 0);
}

TEST_F(Plan, HiddenItemsAreNotDrawn) {
    Overlay overlay;
    overlay.hidden = {ItemId(block)};
    view.show_overlay(overlay);
    EXPECT_EQ(count(view.picture(), view.to_widget(Vec3(356, 206, 0)), 4, palette.placement), 0);
    view.show_overlay({});
    EXPECT_GT(count(view.picture(), view.to_widget(Vec3(356, 206, 0)), 2, palette.placement), 15);
}

TEST_F(Plan, EachKindOfMarkIsSeenAndGoesAgain) {
    const QImage plain = view.picture();
    const Vec3 at(300, 300, 0);
    std::map<std::string, Overlay> marks;
    marks["ghost"].ghosts = {{scene.items.at(block).shape, Pose::move(at), Tone::good}};
    marks["bad ghost"].ghosts = {{scene.items.at(block).shape, Pose::move(at), Tone::bad}};
    marks["measure"].measures = {{at, at + Vec3(50, 0, 0), "50", Tone::plain}};
    marks["measure along the eye"].measures = {{at, at + Vec3(0, 0, 50), "50", Tone::warn}};
    marks["touch"].touches = {{at, Vec3::UnitX(), {at, at + Vec3(0, 20, 0)}, Tone::good}};
    marks["spot"].spots = {{at, "3", Tone::plain}};
    marks["slide"].motions = {{at, Vec3::UnitX(), false}};
    marks["slide along the eye"].motions = {{at, Vec3::UnitZ(), false}};
    marks["turn"].motions = {{at, Vec3::UnitZ(), true}};
    marks["turn about a level axis"].motions = {{at, Vec3::UnitX(), true}};
    marks["note"].notes = {{at, "runs into 3", Tone::bad}};
    marks["line"].lines = {{at, at + Vec3(0, 50, 0)}};
    marks["selected"].selected = {ItemId(bar)};
    marks["hovered"].hovered = ItemId(block);
    marks["face above"].face = std::pair(bar, 5);
    marks["upright face"].face = std::pair(bar, 2);
    marks["hole"].hole = shop::Hole{4, 2};
    std::map<std::string, QImage> pictures;
    for (const auto& [name, overlay] : marks) {
        view.show_overlay(overlay);
        pictures[name] = view.picture();
        EXPECT_GT(differing(plain, pictures[name]), 40) << name;
        view.show_overlay({});
        EXPECT_EQ(differing(plain, view.picture()), 0) << name;
    }
    EXPECT_GT(differing(pictures["ghost"], pictures["bad ghost"]), 100);
    EXPECT_GT(differing(pictures["face above"], pictures["upright face"]), 100);
    // An upright face is a thick line where it stands: the bar's south side.
    EXPECT_GT(count(pictures["upright face"], view.to_widget(Vec3(200, 100, 50)), 2, palette.selected), 12);
}

TEST_F(Plan, GoodAndBadDifferWithoutColour) {
    // The same overlay in the same colour for good and bad: dashes and hatching are left.
    Palette grey = palette;
    grey.good = grey.bad = Qt::black;
    view.set_palette(grey);
    for (const bool ghost : {true, false}) {
        std::array<QImage, 2> seen;
        for (const Tone tone : {Tone::good, Tone::bad}) {
            Overlay overlay;
            if (ghost)
                overlay.ghosts = {{scene.items.at(block).shape, Pose::move(300, 300, 0), tone}};
            else
                overlay.touches = {{Vec3(300, 300, 0), Vec3::UnitX(), {}, tone}};
            view.show_overlay(overlay);
            seen[tone == Tone::bad] = view.picture();
        }
        EXPECT_GT(differing(seen[0], seen[1]), 30) << ghost;
    }
}

TEST_F(Plan, ANoteStaysInsideTheWidget) {
    // Drawn far outside, it comes to lie at the border: more of its ground is seen than of its leader.
    Overlay overlay;
    overlay.notes = {{Vec3(475, 350, 0), "clear: 12 mm to piece 3, which is a rather long sentence", Tone::plain}};
    view.fit();
    const QImage plain = view.picture();
    view.show_overlay(overlay);
    const QImage with = view.picture();
    int left = 0, border = 0;
    for (int y = 0; y < with.height(); ++y)
        for (int x = 0; x < with.width(); ++x) {
            if (with.pixel(x, y) == plain.pixel(x, y)) continue;
            ++left;
            border += x >= with.width() - 2 || y < 1;
        }
    EXPECT_GT(left, 1000);
    EXPECT_EQ(border, 0);
}

TEST_F(Plan, AnOverlayForThingsThatAreGoneDoesNoHarm) {
    Overlay overlay;
    overlay.selected = {ItemId(PieceId{99})};
    overlay.hovered = ItemId(PlacementId{98});
    overlay.face = std::pair(PieceId{97}, 3);
    overlay.ghosts = {{nullptr, {}, Tone::plain}};
    const QImage plain = view.picture();
    view.show_overlay(overlay);
    EXPECT_EQ(differing(plain, view.picture()), 0);
}

TEST_F(Plan, AnEmptySceneIsDrawnAsGround) {
    PlanView empty;
    empty.resize(400, 300);
    const QImage image = empty.picture();
    EXPECT_TRUE(near(image.pixelColor(200, 100), palette.ground, 3));
}

TEST_F(Plan, LightAndDarkAreTheTableOfTheirPalette) {
    for (const Palette& p : {Palette::light(), Palette::dark()}) {
        view.set_palette(p);
        EXPECT_GT(count(view.picture(), view.to_widget(Vec3(25, 50, 0)), 4, p.table), 60);
    }
}

TEST_F(Plan, TheWheelZoomsAboutThePointer) {
    view.show();
    const QPointF at(250, 400);
    const Vec3 before = view.ray(at).origin_T;
    const double scale = view.mm_per_pixel();
    QSignalSpy moved(&view, &View::camera_moved);
    QWheelEvent wheel(at, view.mapToGlobal(at), QPoint(), QPoint(0, 120), Qt::NoButton, Qt::NoModifier,
                      Qt::NoScrollPhase, false);
    QApplication::sendEvent(&view, &wheel);
    EXPECT_NEAR(view.mm_per_pixel(), scale / 1.2, exact);
    EXPECT_LT((view.ray(at).origin_T - before).norm(), exact);
    EXPECT_EQ(moved.count(), 1);
}

TEST_F(Plan, MiddleAndRightDragPan) {
    view.show();
    for (const Qt::MouseButton button : {Qt::MiddleButton, Qt::RightButton}) {
        const QPointF before = view.to_widget(Vec3::Zero());
        QSignalSpy pressed(&view, &View::pressed);
        QTest::mousePress(&view, button, {}, QPoint(300, 300));
        QMouseEvent move(QEvent::MouseMove, QPointF(340, 280), view.mapToGlobal(QPointF(340, 280)), Qt::NoButton,
                         button, Qt::NoModifier);
        QApplication::sendEvent(&view, &move);
        QTest::mouseRelease(&view, button, {}, QPoint(340, 280));
        const QPointF by = view.to_widget(Vec3::Zero()) - before;
        EXPECT_NEAR(by.x(), 40, exact);
        EXPECT_NEAR(by.y(), -20, exact);
        EXPECT_EQ(pressed.count(), 0) << "that is the tool's button";
    }
}

TEST_F(Plan, TheLeftButtonIsTheTools) {
    view.show();
    QSignalSpy pressed(&view, &View::pressed), released(&view, &View::released), moved(&view, &View::moved);
    const QPointF before = view.to_widget(Vec3::Zero());
    QTest::mousePress(&view, Qt::LeftButton, {}, QPoint(300, 300));
    QTest::mouseMove(&view, QPoint(340, 280));
    QTest::mouseRelease(&view, Qt::LeftButton, {}, QPoint(340, 280));
    EXPECT_EQ(pressed.count(), 1);
    EXPECT_EQ(released.count(), 1);
    EXPECT_EQ(view.to_widget(Vec3::Zero()), before);
}

TEST_F(Plan, APressOfASecondButtonDoesNotEndTheDrag) {
    view.show();
    QSignalSpy released(&view, &View::released);
    QTest::mousePress(&view, Qt::LeftButton, {}, QPoint(300, 300));
    QMouseEvent other(QEvent::MouseButtonRelease, QPointF(310, 300), view.mapToGlobal(QPointF(310, 300)),
                      Qt::RightButton, Qt::LeftButton, Qt::NoModifier);
    QApplication::sendEvent(&view, &other);
    EXPECT_EQ(released.count(), 0);
    QTest::mouseRelease(&view, Qt::LeftButton, {}, QPoint(340, 280));
    EXPECT_EQ(released.count(), 1);
}

TEST(PlanOfASample, TheOutlineOfABodyHoldsAllThatIsSeenOfIt) {
    for (const char* name : {"D1", "D2"}) {
        const Job& job = sample_job(name);
        ShapeBook shapes;
        const Scene scene = make_scene(job, job.stages[0].id, shapes);
        for (const Direction from : all_directions)
            for (const auto& [id, item] : scene.items) {
                const space::Mat3 R_VS = PlanCamera{from}.R_VT() * item.X_TS.rotation();
                const FlatBody body = flatten(*item.shape, R_VS);
                int lost = 0;
                for (const auto& [a, b, c] : item.shape->mesh.triangles) {
                    const auto& points = item.shape->mesh.points;
                    const Vec3 n = R_VS * (points[b] - points[a]).cross(points[c] - points[a]);
                    if (n.normalized().z() < 0.1 || n.norm() < 1) continue;
                    const Vec3 middle = R_VS * (points[a] + points[b] + points[c]) / 3;
                    lost += !body.outline.contains(QPointF(middle.x(), -middle.y()));
                }
                EXPECT_EQ(lost, 0) << name << " " << item.label << " from " << static_cast<int>(from);
                for (const Vec3& p : item.shape->mesh.points) {
                    const Vec3 v = R_VS * p;
                    EXPECT_TRUE(body.box.adjusted(-0.1, -0.1, 0.1, 0.1).contains(QPointF(v.x(), -v.y())))
                        << name << " " << item.label;
                }
            }
    }
}

}  // namespace
}  // namespace setwright::viewer
