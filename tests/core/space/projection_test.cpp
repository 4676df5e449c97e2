#include "core/space/projection.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <numbers>
#include <string>

#include "core/space/bodies.h"

namespace {

using namespace setwright::space;

struct Count {
    std::size_t visible = 0, hidden = 0;
    double visible_mm = 0, hidden_mm = 0;
};

Count count(const std::vector<ProjectedLine>& lines, int tag = -1) {
    Count c;
    for (const ProjectedLine& line : lines) {
        if (tag >= 0 && line.tag != static_cast<std::uint32_t>(tag)) continue;
        (line.visible ? c.visible : c.hidden) += line.points.size() - 1;
        for (std::size_t i = 1; i < line.points.size(); ++i)
            (line.visible ? c.visible_mm : c.hidden_mm) += (line.points[i] - line.points[i - 1]).norm();
    }
    return c;
}

std::vector<ProjectedLine> lines_of(const std::vector<ProjectedBody>& bodies, const Pose& X_TV, bool hidden = true) {
    auto result = project(bodies, X_TV, hidden);
    EXPECT_TRUE(result.ok());
    return result ? *result : std::vector<ProjectedLine>{};
}

/// Looks from a corner of the room: no edge of an upright box lies along the view.
Pose skew() {
    return Pose::from_axes(Vec3(3, 5, 7), Vec3(1, 2, 1.5).normalized(), Vec3(1, 0, 0));
}

Polygon2 rounded_square(double side, double radius, bool clockwise) {
    Polygon2 outline;
    for (int corner = 0; corner < 4; ++corner)
        for (int step = 0; step <= 8; ++step) {
            const double a = (corner + step / 8.0) * std::numbers::pi / 2;
            const double c = side / 2 - radius;
            const Vec2 centre(corner == 0 || corner == 3 ? c : -c, corner < 2 ? c : -c);
            outline.push_back(centre + radius * Vec2(std::cos(a), std::sin(a)));
        }
    if (clockwise) std::reverse(outline.begin(), outline.end());
    return outline;
}

// Convex solid seen from outside every face plane: 12 edges, the three at the far corner are hidden.
TEST(Projection, BoxSeenSkewHasNineVisibleAndThreeHiddenEdges) {
    const Brep box = Brep::box(Vec3(0, 0, 0), Vec3(30, 40, 50));
    const auto lines = lines_of({{&box, {}, 4}}, skew());
    const Count c = count(lines, 4);
    EXPECT_EQ(c.visible, 9u);
    EXPECT_EQ(c.hidden, 3u);
    // Each of three directions has four parallel edges, so visible : hidden is 3 : 1 in drawn length too.
    EXPECT_NEAR(c.visible_mm, 3 * c.hidden_mm, 0.01);
    const Count without = count(lines_of({{&box, {}, 4}}, skew(), false));
    EXPECT_EQ(without.visible, 9u);
    EXPECT_EQ(without.hidden, 0u);
}

TEST(Projection, BoxBehindABiggerBoxIsHidden) {
    const Brep big = Brep::box(Vec3(-100, -100, 50), Vec3(100, 100, 60));
    const Brep small = Brep::box(Vec3(-10, -10, 0), Vec3(10, 10, 20));
    const auto lines = lines_of({{&big, {}, 1}, {&small, {}, 2}}, {});
    EXPECT_EQ(count(lines, 2).visible, 0u);
    // Seen along its height the small box is one square: 4 edges of 20.
    EXPECT_EQ(count(lines, 2).hidden, 4u);
    EXPECT_NEAR(count(lines, 2).hidden_mm, 80, 0.05);
    EXPECT_NEAR(count(lines, 1).visible_mm, 800, 0.05);
}

// Seen along its axis a cylinder is a circle, seen from the side a rectangle of its own outline lines.
TEST(Projection, CylinderIsACircleFromTheEndAndARectangleFromTheSide) {
    const Brep cylinder = Brep::cylinder(Vec3(0, 0, 0), Vec3(0, 0, 80), 20);
    const Count end = count(lines_of({{&cylinder, {}, 1}}, {}, false));
    EXPECT_NEAR(end.visible_mm, 2 * std::numbers::pi * 20, 0.02 * 2 * std::numbers::pi * 20);
    const Pose from_south = Pose::from_axes(Vec3::Zero(), Vec3(0, -1, 0), Vec3(1, 0, 0));
    const auto side = lines_of({{&cylinder, {}, 1}}, from_south, false);
    Vec2 low(1e9, 1e9), high(-1e9, -1e9);
    for (const auto& line : side)
        for (const Vec2& p : line.points) {
            low = low.cwiseMin(p);
            high = high.cwiseMax(p);
        }
    EXPECT_NEAR(high.x() - low.x(), 40, 0.4);
    EXPECT_NEAR(high.y() - low.y(), 80, 1e-6);
    // Two ends and two outlines; chords of the mesh are a little shorter than the diameter.
    EXPECT_NEAR(count(side).visible_mm, 2 * 80 + 2 * 40, 2);
}

// The 50 x 50 tube P1 has corner radius 6 (models: R = 2T): the flats end 19 from the middle, where no line belongs.
TEST(Projection, TangentEdgesOfARoundedTubeAreNotDrawn) {
    setenv("SETWRIGHT_WORKER", SETWRIGHT_WORKER, 1);
    const auto bodies = read_step(std::string(SETWRIGHT_SAMPLES_DIR) + "/D1.step");
    ASSERT_TRUE(bodies.ok());
    bool found = false;
    for (const Body& body : bodies->bodies) {
        const Brep& brep = bodies->breps[body.solid];
        Aabb box = bodies->solids[body.solid]->box.moved(body.X_MD);
        if (std::abs(box.size().x() - 900) > 0.01) continue;
        found = true;
        double long_lines_mm = 0;
        for (const auto& line : lines_of({{&brep, body.X_MD, 1}}, {}, false))
            for (std::size_t i = 1; i < line.points.size(); ++i) {
                const Vec2 d = line.points[i] - line.points[i - 1];
                if (std::abs(d.x()) > 100) {
                    long_lines_mm += std::abs(d.x());
                    EXPECT_NEAR(std::abs(line.points[i].y()), 25, 0.2);
                }
            }
        // The two outlines and nothing else along the tube.
        EXPECT_NEAR(long_lines_mm, 2 * 900, 0.1);
    }
    EXPECT_TRUE(found);
}

// Two rims and two outlines; the seam edge of the closed face is smooth. Along the axis only the outlines run: their
// drawn length is 60 * sin(angle between the axis and the view), each.
TEST(Projection, SeamOfARoundBarIsNotDrawn) {
    const Brep round = Brep::cylinder(Vec3(0, 0, 0), Vec3(0, 0, 60), 20);
    const auto from_above_skew = lines_of({{&round, {}, 1}}, skew(), true);
    const Vec3 view = Vec3(1, 2, 1.5).normalized();
    const double foreshortened = 60 * std::sqrt(1 - view.z() * view.z());
    const Vec3 axis_in_view = skew().inverse().turn(Vec3(0, 0, 1));
    const Vec2 along = Vec2(axis_in_view.x(), axis_in_view.y()).normalized();
    double axial_mm = 0;
    for (const auto& line : from_above_skew)
        for (std::size_t i = 1; i < line.points.size(); ++i) {
            const Vec2 d = line.points[i] - line.points[i - 1];
            if (std::abs(d.normalized().dot(along)) > 0.99999) axial_mm += d.norm();
        }
    EXPECT_NEAR(axial_mm, 2 * foreshortened, 0.5);
}

// Chords of 11.25 degrees are no smooth edges: they stay, as they should for a real chamfered bar.
TEST(Projection, SharpChordsStay) {
    auto bar = Brep::prism(rounded_square(40, 10, false), {}, 0, 60);
    ASSERT_TRUE(bar.ok());
    const Pose from_south = Pose::from_axes(Vec3::Zero(), Vec3(0, -1, 0), Vec3(1, 0, 0));
    EXPECT_GT(count(lines_of({{&*bar, {}, 1}}, from_south, false)).visible, 8u);
}

// Two boxes side by side share a face: seen from above 7 lines' worth of length, the shared edge once.
TEST(Projection, SharedEdgeOfTouchingBoxesIsDrawnOnce) {
    const Brep left = Brep::box(Vec3(0, 0, 0), Vec3(20, 30, 10));
    const Brep right = Brep::box(Vec3(20, 0, 0), Vec3(50, 30, 10));
    const auto lines = lines_of({{&left, {}, 1}, {&right, {}, 2}}, {}, false);
    // Outside 2 * (50 + 30), inside 30 once.
    EXPECT_NEAR(count(lines).visible_mm, 2 * (50 + 30) + 30, 0.05);
    EXPECT_NEAR(count(lines, 1).visible_mm, 2 * (20 + 30), 0.05);
}

TEST(Projection, SameBodyTwiceKeepsItsTagsApart) {
    const Brep box = Brep::box(Vec3(0, 0, 0), Vec3(10, 10, 10));
    const auto lines = lines_of({{&box, {}, 7}, {&box, Pose::move(100, 0, 0), 3}}, {}, false);
    EXPECT_NEAR(count(lines, 7).visible_mm, 40, 0.02);
    EXPECT_NEAR(count(lines, 3).visible_mm, 40, 0.02);
    EXPECT_EQ(lines.front().tag, 3u);
}

TEST(Projection, RepeatsToTheLastBit) {
    const Brep a = Brep::cylinder(Vec3(0, 0, 0), Vec3(30, 10, 80), 20);
    const Brep b = Brep::box(Vec3(-5, -5, 10), Vec3(40, 3, 30));
    const auto first = lines_of({{&a, {}, 1}, {&b, {}, 2}}, skew());
    const auto second = lines_of({{&a, {}, 1}, {&b, {}, 2}}, skew());
    ASSERT_EQ(first.size(), second.size());
    for (std::size_t i = 0; i < first.size(); ++i) {
        EXPECT_EQ(first[i].tag, second[i].tag);
        EXPECT_EQ(first[i].visible, second[i].visible);
        EXPECT_EQ(first[i].points, second[i].points);
    }
}

TEST(Projection, NothingGivesNothing) {
    EXPECT_TRUE(lines_of({}, {}).empty());
    const Brep empty;
    EXPECT_TRUE(lines_of({{&empty, {}, 1}}, {}).empty());
}

}  // namespace
