#include "core/space/shape.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

namespace setwright::space {
namespace {

// Exact in real numbers; what is left is the rounding of about ten operations on values below 1e3.
constexpr double rounding = 1e-9;

TEST(Box, EmptyOneIsInfinitelyFarAndStaysEmpty) {
    const Aabb nothing;
    const Aabb cube{Vec3(0, 0, 0), Vec3(1, 1, 1)};
    EXPECT_TRUE(nothing.empty());
    EXPECT_TRUE(nothing.grown(5).empty());
    EXPECT_TRUE(nothing.moved(Pose::move(1, 2, 3)).empty());
    EXPECT_EQ(nothing.distance(cube), std::numeric_limits<double>::infinity());
    EXPECT_EQ(cube.distance(nothing), std::numeric_limits<double>::infinity());
}

TEST(Box, DistanceIsThatOfTheNearestCorners) {
    const Aabb a{Vec3(0, 0, 0), Vec3(1, 1, 1)};
    const Aabb b{Vec3(4, 5, 1), Vec3(6, 6, 2)};
    EXPECT_DOUBLE_EQ(a.distance(b), 5);  // 3-4-5 triangle, touching heights
    EXPECT_DOUBLE_EQ(b.distance(a), 5);
    EXPECT_DOUBLE_EQ(a.grown(1).distance(b), std::hypot(2, 3));
    EXPECT_EQ(a.distance({Vec3(1, 0, 0), Vec3(2, 1, 1)}), 0);
}

TEST(Box, MovedBoxHoldsAllCornersAndNoMore) {
    // A 2 x 1 box turned by 30 degrees: 2 cos 30 + sin 30 wide, 2 sin 30 + cos 30 deep.
    const Aabb turned = Aabb{Vec3(0, 0, 0), Vec3(2, 1, 3)}.moved(Pose::turn_z(base::Angle::deg(30)));
    EXPECT_NEAR(turned.size().x(), 2 * std::sqrt(3) / 2 + 0.5, rounding);
    EXPECT_NEAR(turned.size().y(), 1 + std::sqrt(3) / 2, rounding);
    EXPECT_NEAR(turned.size().z(), 3, rounding);
    EXPECT_NEAR(turned.min.x(), -0.5, rounding);
}

const Polygon2 l_shape{{0, 0}, {4, 0}, {4, 1}, {1, 1}, {1, 3}, {0, 3}};

TEST(Polygon, AreaAndCentroidOfAnL) {
    // Two rectangles, 4 x 1 and 1 x 2: area 6, centroid ((2*4 + 0.5*2)/6, (0.5*4 + 2*2)/6).
    EXPECT_NEAR(area(l_shape), 6, rounding);
    EXPECT_NEAR(centroid(l_shape).x(), 9.0 / 6, rounding);
    EXPECT_NEAR(centroid(l_shape).y(), 6.0 / 6, rounding);
    Polygon2 backwards(l_shape.rbegin(), l_shape.rend());
    EXPECT_NEAR(area(backwards), -6, rounding);
    EXPECT_NEAR((centroid(backwards) - centroid(l_shape)).norm(), 0, rounding);
}

TEST(Polygon, CentroidHoldsFarFromTheOrigin) {
    Polygon2 far = l_shape;
    for (Vec2& p : far) p += Vec2(1e8, -1e8);
    EXPECT_NEAR(area(far), 6, 1e-6);
    EXPECT_NEAR(centroid(far).x() - 1e8, 1.5, 1e-6);
}

TEST(Polygon, WithoutAreaTheCentroidIsTheMeanOfTheCorners) {
    EXPECT_EQ(area({}), 0);
    EXPECT_EQ(centroid({}), Vec2(0, 0));
    EXPECT_EQ(centroid({{3, 4}}), Vec2(3, 4));
    EXPECT_NEAR((centroid({{0, 0}, {2, 0}, {4, 0}}) - Vec2(2, 0)).norm(), 0, rounding);
}

TEST(Polygon, ContainsFollowsTheNotch) {
    EXPECT_TRUE(contains(l_shape, {0.5, 2.5}));
    EXPECT_TRUE(contains(l_shape, {3.5, 0.5}));
    EXPECT_FALSE(contains(l_shape, {2, 2}));
    EXPECT_FALSE(contains(l_shape, {-1, 1}));
    EXPECT_FALSE(contains({}, {0, 0}));
}

TEST(Clip, PartOfAnLInsideASquare) {
    const Polygon2 window{{0.5, 0.5}, {2.5, 0.5}, {2.5, 2.5}, {0.5, 2.5}};
    // 2 x 0.5 of the foot and 0.5 x 1.5 of the leg.
    EXPECT_NEAR(area(clip_to_convex(l_shape, window)), 1.75, rounding);
    const Polygon2 backwards(l_shape.rbegin(), l_shape.rend());
    EXPECT_NEAR(area(clip_to_convex(backwards, window)), -1.75, rounding);
}

TEST(Clip, PiecesThatFallApartKeepTheirArea) {
    const Polygon2 u_shape{{0, 0}, {5, 0}, {5, 3}, {4, 3}, {4, 1}, {1, 1}, {1, 3}, {0, 3}};
    // Only the tips of both legs, 1 x 1 each.
    EXPECT_NEAR(area(clip_to_convex(u_shape, {{-1, 2}, {6, 2}, {6, 4}, {-1, 4}})), 2, rounding);
}

TEST(Clip, NothingInCommonGivesNothing) {
    EXPECT_TRUE(clip_to_convex(l_shape, {{10, 10}, {11, 10}, {11, 11}}).empty());
    EXPECT_TRUE(clip_to_convex({}, {{0, 0}, {1, 0}, {1, 1}}).empty());
    EXPECT_TRUE(clip_to_convex(l_shape, {}).empty());
}

TEST(Segments, CrossingParallelAndDegenerateOnes) {
    // Crossing at right angles, 2 apart.
    SegmentPair pair = closest({-1, 0, 0}, {1, 0, 0}, {0, -1, 2}, {0, 1, 2});
    EXPECT_NEAR(pair.distance_mm, 2, rounding);
    EXPECT_NEAR((pair.on_b - Vec3(0, 0, 2)).norm(), 0, rounding);
    // Parallel, overlapping over part of their length.
    EXPECT_NEAR(closest({0, 0, 0}, {4, 0, 0}, {3, 1, 0}, {9, 1, 0}).distance_mm, 1, rounding);
    // In line with a gap, 3.
    EXPECT_NEAR(closest({0, 0, 0}, {4, 0, 0}, {7, 0, 0}, {9, 0, 0}).distance_mm, 3, rounding);
    // A point and a segment; two points; the same segment twice.
    EXPECT_NEAR(closest({1, 1, 0}, {1, 1, 0}, {0, 0, 0}, {4, 0, 0}).distance_mm, 1, rounding);
    EXPECT_NEAR(closest({1, 1, 1}, {1, 1, 1}, {1, 1, 4}, {1, 1, 4}).distance_mm, 3, rounding);
    EXPECT_EQ(closest({0, 0, 0}, {1, 2, 3}, {0, 0, 0}, {1, 2, 3}).distance_mm, 0);
}

TEST(Segments, NoSampledPairIsCloser) {
    std::mt19937 random(7);
    std::uniform_real_distribution<double> coordinate(-10, 10);
    const auto point = [&] { return Vec3(coordinate(random), coordinate(random), coordinate(random)); };
    for (int round = 0; round < 200; ++round) {
        const Vec3 a0 = point(), a1 = point(), b0 = point(), b1 = point();
        const SegmentPair pair = closest(a0, a1, b0, b1);
        EXPECT_NEAR((pair.on_a - pair.on_b).norm(), pair.distance_mm, rounding);
        double sampled = std::numeric_limits<double>::infinity();
        for (int i = 0; i <= 40; ++i)
            for (int k = 0; k <= 40; ++k)
                sampled = std::min(sampled, (a0 + (a1 - a0) * i / 40 - b0 - (b1 - b0) * k / 40).norm());
        EXPECT_LE(pair.distance_mm, sampled + rounding);
        EXPECT_GE(pair.distance_mm, sampled - 1.0);  // steps of at most 35/40 on both
    }
}

}  // namespace
}  // namespace setwright::space
