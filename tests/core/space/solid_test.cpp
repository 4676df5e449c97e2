#include "core/space/solid.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "core/base/limits.h"

namespace setwright::space {
namespace {

using std::numbers::pi;

// The kernel integrates planes and cylinders by Gauss points: exact up to rounding.
constexpr double relative = 1e-9;

const Pose skew = Pose::move(310, -45, 88) * Pose::turn_x(base::Angle::deg(33)) * Pose::turn_y(base::Angle::deg(-17)) *
                  Pose::turn_z(base::Angle::deg(71));

Solid described(const Brep& brep) {
    const base::Result<Solid> solid = describe(brep);
    EXPECT_TRUE(solid.ok());
    return solid.ok() ? *solid : Solid{};
}

int count(const Solid& solid, Convexity convexity) {
    return static_cast<int>(
        std::count_if(solid.edges.begin(), solid.edges.end(), [&](const Edge& e) { return e.convexity == convexity; }));
}

int count(const Solid& solid, SurfaceKind kind) {
    return static_cast<int>(
        std::count_if(solid.faces.begin(), solid.faces.end(), [&](const Face& f) { return f.surface.kind == kind; }));
}

/// What holds for the description of any closed body.
void expect_sound(const Solid& solid) {
    EXPECT_TRUE(solid.valid);
    double area = 0;
    std::uint32_t triangles = 0;
    for (const Face& face : solid.faces) {
        area += face.area_mm2;
        EXPECT_EQ(face.first_triangle, triangles);
        triangles += face.triangle_count;
        EXPECT_GT(face.triangle_count, 0u);
        EXPECT_EQ(std::count_if(face.loops.begin(), face.loops.end(), [](const Loop& l) { return l.outer; }), 1);
    }
    EXPECT_EQ(triangles, solid.mesh.triangles.size());
    EXPECT_NEAR(area, solid.area_mm2, 1e-6 * area);
    for (const Edge& edge : solid.edges) {
        EXPECT_GE(edge.face_a, 0);
        EXPECT_GE(edge.face_b, 0);
        EXPECT_NE(edge.convexity, Convexity::open);
        ASSERT_GE(edge.polyline.size(), 2u);
    }
    // Twice the vector area of the loops of a plane face, along its outward normal: the face's own area, so outer
    // loops run counter-clockwise and holes clockwise seen from outside.
    for (const Face& face : solid.faces) {
        if (face.surface.kind != SurfaceKind::plane) continue;
        double signed_area = 0;
        for (const Loop& loop : face.loops) {
            Vec3 sum = Vec3::Zero();
            for (std::size_t i = 0; i < loop.polyline.size(); ++i)
                sum += (loop.polyline[i] - face.surface.point)
                           .cross(loop.polyline[(i + 1) % loop.polyline.size()] - face.surface.point);
            const double loop_area = sum.dot(face.surface.axis) / 2;
            EXPECT_EQ(loop.outer, loop_area > 0);
            signed_area += loop_area;
        }
        // Polylines of circles are inside them: 0.3 rad steps lose at most 1 - sin(0.3)/0.3 = 1.5 %.
        EXPECT_NEAR(signed_area, face.area_mm2, 0.02 * face.area_mm2);
        // The plane's normal points out of the material, as the triangles do.
        for (std::uint32_t i = 0; i < face.triangle_count; ++i) {
            const auto& [a, b, c] = solid.mesh.triangles[face.first_triangle + i];
            const auto& p = solid.mesh.points;
            EXPECT_GT((p[b] - p[a]).cross(p[c] - p[a]).dot(face.surface.axis), 0);
        }
    }
    EXPECT_GT(solid.mesh.volume_mm3(), 0);
}

void expect_inertia(const Mat3& measured, const Mat3& expected) {
    EXPECT_NEAR((measured - expected).norm() / expected.norm(), 0, relative);
}

TEST(Describe, BoxAtASkewPoseFollowsTheFormulas) {
    const Solid solid = described(Brep::box({0, 0, 0}, {30, 20, 10}).moved(skew));
    expect_sound(solid);
    EXPECT_EQ(count(solid, SurfaceKind::plane), 6);
    EXPECT_EQ(solid.edges.size(), 12u);
    EXPECT_EQ(count(solid, Convexity::convex), 12);
    EXPECT_NEAR(solid.volume_mm3, 6000, 6000 * relative);
    EXPECT_NEAR(solid.area_mm2, 2 * (600 + 300 + 200), 2200 * relative);
    EXPECT_NEAR((solid.centroid - skew * Vec3(15, 10, 5)).norm(), 0, 1e-7);
    // Cuboid about its centre: m (b^2 + c^2) / 12 on each axis.
    const Vec3 principal = 6000.0 / 12 * Vec3(400 + 100, 900 + 100, 900 + 400);
    expect_inertia(solid.inertia, skew.rotation() * principal.asDiagonal() * skew.rotation().transpose());
    EXPECT_NEAR(solid.mesh.volume_mm3(), 6000, 1e-6);
    for (const Edge& edge : solid.edges) {
        EXPECT_EQ(edge.kind, CurveKind::line);
        EXPECT_EQ(edge.polyline.size(), 2u);
        EXPECT_NEAR((edge.polyline[1] - edge.polyline[0]).norm(), edge.length_mm, 1e-9);
    }
}

TEST(Describe, CylinderAtASkewPoseFollowsTheFormulas) {
    const double r = 25, h = 80;
    const Solid solid = described(Brep::cylinder({0, 0, 0}, {0, 0, h}, r).moved(skew));
    expect_sound(solid);
    EXPECT_EQ(count(solid, SurfaceKind::plane), 2);
    EXPECT_EQ(count(solid, SurfaceKind::cylinder), 1);
    EXPECT_EQ(count(solid, Convexity::convex), 2);
    EXPECT_EQ(count(solid, Convexity::smooth), 1) << "the seam";
    const double m = pi * r * r * h;
    EXPECT_NEAR(solid.volume_mm3, m, m * relative);
    const double across = m * (3 * r * r + h * h) / 12;
    expect_inertia(solid.inertia,
                   skew.rotation() * Vec3(across, across, m * r * r / 2).asDiagonal() * skew.rotation().transpose());
    for (const Face& face : solid.faces) {
        if (face.surface.kind != SurfaceKind::cylinder) continue;
        EXPECT_TRUE(face.surface.outside);
        EXPECT_NEAR(face.surface.radius_mm, r, 1e-9);
        EXPECT_NEAR(std::abs(face.surface.axis.dot(skew.turn(Vec3::UnitZ()))), 1, 1e-12);
        EXPECT_NEAR(face.surface.axis.cross(face.surface.point - skew.position()).norm(), 0, 1e-7);
    }
    for (const Edge& edge : solid.edges) {
        if (edge.kind != CurveKind::circle) continue;
        EXPECT_NEAR(edge.length_mm, 2 * pi * r, 1e-6);
        EXPECT_EQ(edge.polyline.front(), edge.polyline.back());
    }
}

Polygon2 circle(double radius, int sides, bool clockwise) {
    Polygon2 outline;
    for (int i = 0; i < sides; ++i) {
        const double a = (clockwise ? -2 : 2) * pi * i / sides;
        outline.emplace_back(radius * std::cos(a), radius * std::sin(a));
    }
    return outline;
}

TEST(Describe, PrismWithAHoleHasConcaveFreeBoreEdges) {
    // A 60 x 40 plate, 8 thick, with a square hole of 10: tunnel walls meet at 270 degrees of material.
    const auto prism =
        Brep::prism({{-30, -20}, {30, -20}, {30, 20}, {-30, 20}}, {{{-5, -5}, {-5, 5}, {5, 5}, {5, -5}}}, 2, 10, skew);
    ASSERT_TRUE(prism.ok());
    const Solid solid = described(*prism);
    expect_sound(solid);
    EXPECT_EQ(solid.faces.size(), 10u);
    EXPECT_EQ(count(solid, Convexity::concave), 4);
    EXPECT_EQ(count(solid, Convexity::convex), 20);
    EXPECT_NEAR(solid.volume_mm3, (2400 - 100) * 8, 1e-4);
    const double plate = 2400 * 8, hole = 100 * 8;
    const Vec3 principal = Vec3(plate * (1600 + 64) - hole * (100 + 64), plate * (3600 + 64) - hole * (100 + 64),
                                plate * (3600 + 1600) - hole * (100 + 100)) /
                           12;
    expect_inertia(solid.inertia, skew.rotation() * principal.asDiagonal() * skew.rotation().transpose());
}

TEST(Describe, DrilledHoleIsAnInsideCylinder) {
    const auto drilled = Brep::cut(Brep::box({0, 0, 0}, {40, 40, 10}), Brep::cylinder({20, 20, -1}, {20, 20, 11}, 6));
    ASSERT_TRUE(drilled.ok());
    const Solid solid = described(drilled->moved(skew));
    expect_sound(solid);
    EXPECT_NEAR(solid.volume_mm3, 16000 - pi * 36 * 10, 1e-4);
    ASSERT_EQ(count(solid, SurfaceKind::cylinder), 1);
    for (const Face& face : solid.faces)
        EXPECT_TRUE(face.surface.kind != SurfaceKind::cylinder || !face.surface.outside);
    EXPECT_EQ(count(solid, Convexity::concave), 0);
    EXPECT_EQ(count(solid, Convexity::convex), 14);
}

TEST(Describe, EdgesOfAnLAreConcaveInTheCorner) {
    const auto angle = Brep::prism({{0, 0}, {40, 0}, {40, 5}, {5, 5}, {5, 40}, {0, 40}}, {}, 0, 100, skew);
    ASSERT_TRUE(angle.ok());
    const Solid solid = described(*angle);
    expect_sound(solid);
    ASSERT_EQ(count(solid, Convexity::concave), 1);
    for (const Edge& edge : solid.edges) {
        if (edge.convexity != Convexity::concave) continue;
        const Vec3 middle = skew.inverse() * ((edge.polyline[0] + edge.polyline[1]) / 2);
        EXPECT_NEAR((middle - Vec3(5, 5, 50)).norm(), 0, 1e-9);
    }
}

TEST(Describe, FacesOfFinePolygonAreSmoothWhereTheyBarelyTurn) {
    // 720 sides turn by 0.5 degrees each, below smooth_edge_deg; 90 sides by 4 degrees, above it.
    const auto fine = Brep::prism(circle(200, 720, false), {}, 0, 10);
    const auto coarse = Brep::prism(circle(200, 90, false), {}, 0, 10);
    ASSERT_TRUE(fine.ok() && coarse.ok());
    EXPECT_EQ(count(described(*fine), Convexity::smooth), 720);
    EXPECT_EQ(count(described(*coarse), Convexity::smooth), 0);
}

TEST(Describe, MirroredBodyKeepsItsOutwardSide) {
    const auto angle = Brep::prism({{0, 0}, {40, 0}, {40, 5}, {5, 5}, {5, 20}, {0, 20}}, {}, 0, 100, skew);
    ASSERT_TRUE(angle.ok());
    const auto other_hand = angle->mirrored(Vec3(1, 2, -1));
    ASSERT_TRUE(other_hand.ok());
    const Solid solid = described(*angle), mirrored = described(*other_hand);
    expect_sound(mirrored);
    EXPECT_NEAR(mirrored.volume_mm3, solid.volume_mm3, solid.volume_mm3 * relative);
    EXPECT_EQ(count(mirrored, Convexity::concave), 1);
    const Vec3 n = Vec3(1, 2, -1).normalized();
    EXPECT_NEAR((mirrored.centroid - (solid.centroid - 2 * n.dot(solid.centroid) * n)).norm(), 0, 1e-7);
}

TEST(Describe, CompoundOfTwoBodiesIsTheirSum) {
    const Solid solid =
        described(Brep::together({Brep::box({0, 0, 0}, {1, 1, 1}), Brep(), Brep::box({5, 0, 0}, {7, 1, 1})}));
    expect_sound(solid);
    EXPECT_EQ(solid.faces.size(), 12u);
    EXPECT_NEAR(solid.volume_mm3, 3, 1e-9);
}

TEST(Describe, IsTheSameEveryTime) {
    const Brep body = Brep::cylinder({0, 0, 0}, {3, 4, 12}, 5);
    const Solid a = described(body), b = described(body);
    EXPECT_EQ(a.mesh.points, b.mesh.points);
    EXPECT_EQ(a.mesh.triangles, b.mesh.triangles);
}

TEST(Describe, MeshStaysWithinTheDeflection) {
    const double r = 60;
    const Solid solid = described(Brep::cylinder({0, 0, 0}, {0, 0, 100}, r));
    for (const auto& t : solid.mesh.triangles)
        for (std::size_t i = 0; i < 3; ++i) {
            const Vec3 middle = (solid.mesh.points[t[i]] + solid.mesh.points[t[(i + 1) % 3]]) / 2;
            const bool cap = solid.mesh.points[t[0]].z() == solid.mesh.points[t[1]].z() &&
                             solid.mesh.points[t[1]].z() == solid.mesh.points[t[2]].z();
            if (!cap) {
                EXPECT_GE(middle.head<2>().norm(), r - base::limits::mesh_deflection_mm - 1e-9);
            }
        }
}

TEST(Moved, DescriptionAgreesWithThatOfTheMovedBody) {
    const auto prism = Brep::prism({{0, 0}, {50, 0}, {50, 30}, {10, 30}}, {}, 0, 20);
    ASSERT_TRUE(prism.ok());
    const Solid one = moved(described(*prism), skew);
    const Solid two = described(prism->moved(skew));
    EXPECT_NEAR((one.centroid - two.centroid).norm(), 0, 1e-7);
    EXPECT_NEAR((one.inertia - two.inertia).norm() / two.inertia.norm(), 0, relative);
    EXPECT_NEAR((one.box.min - two.box.min).norm(), 0, 1e-9);
    ASSERT_EQ(one.faces.size(), two.faces.size());
    for (std::size_t i = 0; i < one.faces.size(); ++i) {
        EXPECT_NEAR((one.faces[i].surface.axis - two.faces[i].surface.axis).norm(), 0, 1e-9);
        EXPECT_NEAR((one.faces[i].box.max - two.faces[i].box.max).norm(), 0, 1e-9);
    }
}

TEST(Brep, DegenerateBodiesAreRefused) {
    EXPECT_TRUE(Brep::box({0, 0, 0}, {1, 1, 0}).empty());
    EXPECT_TRUE(Brep::cylinder({1, 1, 1}, {1, 1, 1}, 5).empty());
    EXPECT_TRUE(Brep::cylinder({0, 0, 0}, {0, 0, 1}, 0).empty());
    EXPECT_FALSE(Brep::prism({{0, 0}, {1, 0}}, {}, 0, 1).ok());
    EXPECT_FALSE(Brep::prism({{0, 0}, {1, 0}, {1, 1}}, {}, 1, 1).ok());
    EXPECT_FALSE(Brep::prism({{0, 0}, {0, 10}, {10, 10}}, {}, 0, 1).ok()) << "clockwise";
    EXPECT_FALSE(Brep::prism({{0, 0}, {10, 10}, {10, 0}, {0, 20}}, {}, 0, 1).ok()) << "crosses itself";
    EXPECT_FALSE(describe(Brep()).ok());
    EXPECT_FALSE(Brep::cut(Brep::box({0, 0, 0}, {1, 1, 1}), Brep::box({-1, -1, -1}, {2, 2, 2})).ok()) << "nothing left";
    EXPECT_TRUE(Brep::together({}).empty());
}

TEST(Brep, BytesComeBackAsTheSameBody) {
    const auto drilled = Brep::cut(Brep::box({0, 0, 0}, {40, 40, 10}), Brep::cylinder({20, 20, -1}, {20, 20, 11}, 6));
    ASSERT_TRUE(drilled.ok());
    const auto back = Brep::from_bytes(drilled->moved(skew).bytes());
    ASSERT_TRUE(back.ok());
    const Solid one = described(drilled->moved(skew)), two = described(*back);
    EXPECT_NEAR(one.volume_mm3, two.volume_mm3, 1e-9);
    ASSERT_EQ(one.mesh.points.size(), two.mesh.points.size());
    for (std::size_t i = 0; i < one.mesh.points.size(); ++i)
        EXPECT_NEAR((one.mesh.points[i] - two.mesh.points[i]).norm(), 0, 1e-9);
    EXPECT_TRUE(Brep::from_bytes("")->empty());
    EXPECT_EQ(Brep().bytes(), "");
}

TEST(Brep, DamagedBytesAreRefused) {
    const std::string good = Brep::cylinder({0, 0, 0}, {0, 0, 5}, 3).bytes();
    for (std::size_t length = 1; length < good.size(); length += 7)
        EXPECT_FALSE(Brep::from_bytes(good.substr(0, length)).ok());
    std::mt19937 random(11);
    for (int round = 0; round < 500; ++round) {
        std::string bad = good;
        bad[random() % bad.size()] ^= static_cast<char>(1 + random() % 255);
        EXPECT_FALSE(Brep::from_bytes(bad).ok());
    }
}

TEST(ExactDistance, BetweenBoxesAndCylinders) {
    const Brep box = Brep::box({0, 0, 0}, {10, 10, 10});
    const auto apart = exact_distance(box, skew, box, skew * Pose::move(13, 14, 0));
    ASSERT_TRUE(apart.ok());
    EXPECT_NEAR(apart->distance_mm, 5, 1e-7);  // 3-4-5
    EXPECT_NEAR((apart->on_a - apart->on_b).norm(), 5, 1e-7);
    const auto inside = exact_distance(Brep::box({-50, -50, -50}, {50, 50, 50}), skew, box, skew);
    ASSERT_TRUE(inside.ok());
    EXPECT_NEAR(inside->distance_mm, 0, 1e-9);
    EXPECT_FALSE(exact_distance(Brep(), {}, box, {}).ok());
}

TEST(CommonVolume, OfShiftedBoxes) {
    const Brep box = Brep::box({0, 0, 0}, {10, 10, 10});
    EXPECT_NEAR(*common_volume(box, skew, box, skew * Pose::move(7, 6, 5)), 3 * 4 * 5, 1e-6);
    EXPECT_EQ(*common_volume(box, skew, box, skew * Pose::move(20, 0, 0)), 0);
    EXPECT_FALSE(common_volume(box, {}, Brep(), {}).ok());
}

}  // namespace
}  // namespace setwright::space
