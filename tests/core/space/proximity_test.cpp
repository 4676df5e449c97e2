#include "core/space/proximity.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "core/base/limits.h"
#include "core/space/solid.h"

namespace setwright::space {
namespace {

/// Float noise of a few hundred millimetres in double, with two decades to spare.
constexpr double tight = 1e-9;

const Pose skew = Pose::move(310, -45, 720) * Pose::turn_z(base::Angle::deg(33)) * Pose::turn_x(base::Angle::deg(-71)) *
                  Pose::turn_y(base::Angle::deg(12));

ProximityBody box(const Vec3& min, const Vec3& max) {
    return ProximityBody(box_mesh(min, max));
}

Pose random_pose(std::mt19937& random, double reach_mm) {
    // std distributions differ between libraries; this one does not.
    const auto unit = [&] { return static_cast<double>(random()) / static_cast<double>(std::mt19937::max()) * 2 - 1; };
    const double x = unit(), y = unit(), z = unit();
    const double a = unit(), b = unit(), c = unit();
    return Pose::move(Vec3(x, y, z) * reach_mm) * Pose::turn_x(base::Angle::rad(3 * a)) *
           Pose::turn_y(base::Angle::rad(3 * b)) * Pose::turn_z(base::Angle::rad(3 * c));
}

TEST(Proximity, BoxesFaceToFaceAreAsFarAsTheirGap) {
    const auto a = box({0, 0, 0}, {100, 50, 20});
    const auto b = box({0, 0, 0}, {30, 30, 30});
    const auto found = separation(a, skew, b, skew * Pose::move(107.5, 5, 5), 50);
    ASSERT_TRUE(found);
    EXPECT_FALSE(found->overlap);
    EXPECT_NEAR(found->distance_mm, 7.5, tight);
    EXPECT_NEAR((found->on_a - found->on_b).norm(), 7.5, tight);
    EXPECT_NEAR((skew.inverse() * found->on_a).x(), 100, tight);
}

TEST(Proximity, BoxesCornerToCornerAreAsFarAsPythagorasSays) {
    const auto a = box({0, 0, 0}, {10, 10, 10});
    // Corner (10,10,10) to corner (13,14,22): sqrt(3^2 + 4^2 + 12^2) = 13.
    const auto found = separation(a, skew, a, skew * Pose::move(13, 14, 22), 50);
    ASSERT_TRUE(found);
    EXPECT_NEAR(found->distance_mm, 13, tight);
    EXPECT_NEAR((found->on_a - skew * Vec3(10, 10, 10)).norm(), 0, tight);
    EXPECT_NEAR((found->on_b - skew * Vec3(13, 14, 22)).norm(), 0, tight);
}

TEST(Proximity, BoxesEdgeToEdgeAreAsFarAsTheHeightOfTheRoof) {
    // A box turned 45 degrees about x stands on its edge: its lowest line is 10/sqrt(2) under its centre.
    const auto a = box({-50, -50, -10}, {50, 50, 0});
    const auto b = box({-5, -5, -5}, {5, 5, 5});
    const Pose X_AB = Pose::move(0, 0, 12) * Pose::turn_x(base::Angle::deg(45));
    const auto found = separation(a, skew, b, skew * X_AB, 50);
    ASSERT_TRUE(found);
    EXPECT_NEAR(found->distance_mm, 12 - 5 * std::sqrt(2.0), tight);
}

TEST(Proximity, NothingBeyondTheCutoffAndTheSameNumberWithin) {
    const auto a = box({0, 0, 0}, {10, 10, 10});
    const Pose X_TB = skew * Pose::move(14, 0, 0);
    EXPECT_FALSE(separation(a, skew, a, X_TB, 3.99));
    const auto near = separation(a, skew, a, X_TB, 4.01);
    const auto far = separation(a, skew, a, X_TB, 1000);
    ASSERT_TRUE(near && far);
    EXPECT_NEAR(near->distance_mm, 4, tight);
    EXPECT_NEAR(far->distance_mm, 4, tight);
}

TEST(Proximity, OverlapIsSaidAndItsPointLiesInBoth) {
    const auto a = box({0, 0, 0}, {100, 50, 20});
    const auto b = box({0, 0, 0}, {30, 30, 30});
    const Pose X_AB = Pose::move(90, 10, 10) * Pose::turn_z(base::Angle::deg(20));
    const auto found = separation(a, skew, b, skew * X_AB, 0);
    ASSERT_TRUE(found);
    EXPECT_TRUE(found->overlap);
    EXPECT_EQ(found->distance_mm, 0);
    const Vec3 in_a = skew.inverse() * found->on_a;
    const Vec3 in_b = (skew * X_AB).inverse() * found->on_a;
    EXPECT_LT((in_a - in_a.cwiseMax(Vec3(0, 0, 0)).cwiseMin(Vec3(100, 50, 20))).norm(), 1e-6);
    EXPECT_LT((in_b - in_b.cwiseMax(Vec3(0, 0, 0)).cwiseMin(Vec3(30, 30, 30))).norm(), 1e-6);
}

TEST(Proximity, ASwallowedBodyOverlaps) {
    // No triangles meet: only a point inside tells.
    const auto big = box({0, 0, 0}, {100, 100, 100});
    const auto small = box({0, 0, 0}, {10, 10, 10});
    const Pose X_TS = skew * Pose::move(45, 45, 45);
    const auto one = separation(big, skew, small, X_TS, 1);
    const auto other = separation(small, X_TS, big, skew, 1);
    ASSERT_TRUE(one && other);
    EXPECT_TRUE(one->overlap);
    EXPECT_TRUE(other->overlap);
}

TEST(Proximity, OneSwallowedPartOfABodyOfSeveralIsEnough) {
    const auto big = box({0, 0, 0}, {100, 100, 100});
    Mesh two = box_mesh({300, 0, 0}, {310, 10, 10});
    two.add(box_mesh({45, 45, 45}, {55, 55, 55}));
    const auto found = separation(big, skew, ProximityBody(two), skew, 1);
    ASSERT_TRUE(found);
    EXPECT_TRUE(found->overlap);
}

TEST(Proximity, ABodyInTheBoreOfATubeDoesNotOverlap) {
    // Four walls of 5 around a bore of 40; a 30 block in the middle is 5 off each.
    Mesh tube = box_mesh({-25, -25, 0}, {25, -20, 200});
    tube.add(box_mesh({-25, 20, 0}, {25, 25, 200}));
    tube.add(box_mesh({-25, -20, 0}, {-20, 20, 200}));
    tube.add(box_mesh({20, -20, 0}, {25, 20, 200}));
    const auto block = box({-15, -15, 90}, {15, 15, 110});
    const auto found = separation(ProximityBody(tube), skew, block, skew, 50);
    ASSERT_TRUE(found);
    EXPECT_FALSE(found->overlap);
    EXPECT_NEAR(found->distance_mm, 5, tight);
}

TEST(Proximity, AnEmptyBodyIsNearNothing) {
    EXPECT_FALSE(separation(ProximityBody(Mesh{}), skew, box({0, 0, 0}, {1, 1, 1}), skew, 1000));
}

TEST(Proximity, TrianglesOfNoAreaChangeNothing) {
    Mesh mesh = box_mesh({0, 0, 0}, {10, 10, 10});
    mesh.triangles.push_back({0, 0, 1});
    const auto found =
        separation(ProximityBody(mesh), skew, box({0, 0, 0}, {10, 10, 10}), skew * Pose::move(16, 0, 0), 50);
    ASSERT_TRUE(found);
    EXPECT_NEAR(found->distance_mm, 6, tight);
}

TEST(Proximity, SwappingAndMovingBothChangesNothingAndPushingApartByTheGapJustTouches) {
    std::mt19937 random(20240611);
    Mesh bodies = cylinder_mesh({0, 0, 0}, {0, 0, 80}, 14);
    bodies.add(box_mesh({-30, -30, -10}, {30, 30, 0}));
    const ProximityBody a(bodies);
    const auto b = box({-20, -8, -40}, {20, 8, 40});
    int apart = 0, overlapping = 0;
    for (int i = 0; i < 300; ++i) {
        const Pose X_TA = random_pose(random, 40), X_TB = random_pose(random, 90), X = random_pose(random, 2000);
        const auto plain = separation(a, X_TA, b, X_TB, 1000);
        const auto swapped = separation(b, X_TB, a, X_TA, 1000);
        const auto moved = separation(a, X * X_TA, b, X * X_TB, 1000);
        ASSERT_TRUE(plain && swapped && moved);
        EXPECT_EQ(plain->overlap, swapped->overlap);
        EXPECT_EQ(plain->overlap, moved->overlap);
        EXPECT_NEAR(plain->distance_mm, swapped->distance_mm, 1e-7);
        EXPECT_NEAR(plain->distance_mm, moved->distance_mm, 1e-7);
        (plain->overlap ? overlapping : apart)++;
        if (plain->overlap) continue;
        EXPECT_NEAR((plain->on_a - plain->on_b).norm(), plain->distance_mm, 1e-7);
        const Vec3 close_up = plain->on_a - plain->on_b;
        const auto touching = separation(a, X_TA, b, Pose::move(close_up * 1.001) * X_TB, 1000);
        ASSERT_TRUE(touching);
        EXPECT_TRUE(touching->overlap);
        const auto near = separation(a, X_TA, b, Pose::move(close_up * 0.999) * X_TB, 1000);
        ASSERT_TRUE(near);
        EXPECT_FALSE(near->overlap);
    }
    EXPECT_GT(apart, 50);
    EXPECT_GT(overlapping, 50);
}

TEST(Proximity, MeshesAgreeWithTheKernelsExactDistance) {
    // Two routes to one number: triangles here, the kernel's exact surfaces there. Boxes are the same in both.
    std::mt19937 random(7);
    const Vec3 a0(-40, -25, -10), a1(40, 25, 10), b0(-15, -15, -60), b1(15, 15, 60);
    const auto a = box(a0, a1), b = box(b0, b1);
    const Brep exact_a = Brep::box(a0, a1), exact_b = Brep::box(b0, b1);
    const Brep bar = Brep::cylinder({0, 0, -60}, {0, 0, 60}, 15);
    const auto described = describe(bar);
    ASSERT_TRUE(described);
    const ProximityBody meshed_bar(described->mesh);
    int apart = 0;
    for (int i = 0; i < 60; ++i) {
        const Pose X_TA = random_pose(random, 50), X_TB = random_pose(random, 150);
        const auto mesh = separation(a, X_TA, b, X_TB, 1000);
        const auto exact = exact_distance(exact_a, X_TA, exact_b, X_TB);
        const auto round = separation(a, X_TA, meshed_bar, X_TB, 1000);
        const auto exact_round = exact_distance(exact_a, X_TA, bar, X_TB);
        ASSERT_TRUE(mesh && exact && round && exact_round);
        // The kernel's distance of a swallowed body is that to the other's surface: only bodies apart are compared.
        if (!mesh->overlap) {
            EXPECT_NEAR(mesh->distance_mm, exact->distance_mm, 1e-6);
        }
        if (!round->overlap && exact_round->distance_mm > base::limits::mesh_deflection_mm) {
            EXPECT_NEAR(round->distance_mm, exact_round->distance_mm, base::limits::mesh_deflection_mm);
            ++apart;
        }
    }
    EXPECT_GT(apart, 20);
}

}  // namespace
}  // namespace setwright::space
