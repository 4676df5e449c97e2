#include "core/space/mesh.h"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <numbers>

namespace setwright::space {
namespace {

constexpr double rounding = 1e-9;

/// Each edge is walked once in each direction: no hole, no face turned inside out.
void expect_closed(const Mesh& mesh) {
    std::map<std::pair<std::uint32_t, std::uint32_t>, int> walked;
    for (const auto& t : mesh.triangles)
        for (std::size_t i = 0; i < 3; ++i) ++walked[{t[i], t[(i + 1) % 3]}];
    for (const auto& [edge, count] : walked) {
        EXPECT_EQ(count, 1);
        EXPECT_EQ(walked.count({edge.second, edge.first}), 1u);
    }
}

TEST(BoxMesh, IsClosedAndHasItsVolume) {
    const Mesh mesh = box_mesh({1, 2, 3}, {4, 6, 8});
    expect_closed(mesh);
    EXPECT_NEAR(mesh.volume_mm3(), 3 * 4 * 5, rounding);
    EXPECT_EQ(mesh.box().min, Vec3(1, 2, 3));
    EXPECT_EQ(mesh.box().max, Vec3(4, 6, 8));
}

TEST(BoxMesh, WithoutThicknessIsEmpty) {
    EXPECT_TRUE(box_mesh({0, 0, 0}, {1, 1, 0}).empty());
    EXPECT_TRUE(box_mesh({0, 0, 0}, {0, 1, 1}).empty());
    EXPECT_EQ(Mesh{}.volume_mm3(), 0);
    EXPECT_TRUE(Mesh{}.box().empty());
}

TEST(CylinderMesh, HoldsTheTrueCylinder) {
    const Vec3 from(10, 20, 30), to(13, 24, 42);  // 13 long (3, 4, 12)
    const Mesh mesh = cylinder_mesh(from, to, 5, 24);
    expect_closed(mesh);
    // Regular 24-gon around a circle: area n r^2 tan(pi/n).
    EXPECT_NEAR(mesh.volume_mm3(), 24 * 25 * std::tan(std::numbers::pi / 24) * 13, 1e-6);
    const Vec3 axis = (to - from) / 13;
    for (const Vec3& p : mesh.points) {
        const Vec3 d = p - from;
        EXPECT_NEAR((d - d.dot(axis) * axis).norm(), 5 / std::cos(std::numbers::pi / 24), rounding);
    }
}

TEST(CylinderMesh, OfNoLengthOrRadiusIsEmpty) {
    EXPECT_TRUE(cylinder_mesh({1, 1, 1}, {1, 1, 1}, 5).empty());
    EXPECT_TRUE(cylinder_mesh({0, 0, 0}, {0, 0, 1}, 0).empty());
}

const Polygon2 l_shape{{0, 0}, {4, 0}, {4, 1}, {1, 1}, {1, 3}, {0, 3}};

TEST(PrismMesh, OfAnLAtASkewPose) {
    const Pose X = Pose::move(100, -50, 7) * Pose::turn_x(base::Angle::deg(33)) * Pose::turn_z(base::Angle::deg(71));
    const Mesh mesh = prism_mesh(l_shape, -1, 4, X);
    expect_closed(mesh);
    EXPECT_NEAR(mesh.volume_mm3(), 6 * 5, rounding);
}

TEST(PrismMesh, WindingAndOrderOfHeightsDoNotTurnItInsideOut) {
    const Mesh mesh = prism_mesh(Polygon2(l_shape.rbegin(), l_shape.rend()), 4, -1);
    expect_closed(mesh);
    EXPECT_NEAR(mesh.volume_mm3(), 30, rounding);
}

TEST(PrismMesh, CornersInLineLeaveItClosed) {
    const Mesh mesh = prism_mesh({{0, 0}, {1, 0}, {2, 0}, {3, 0}, {3, 1}, {3, 3}, {1.5, 3}, {0, 3}, {0, 2}}, 0, 2);
    expect_closed(mesh);
    EXPECT_NEAR(mesh.volume_mm3(), 18, rounding);
}

TEST(PrismMesh, SpiralNeedsEveryEar) {
    const Polygon2 spiral{{0, 0}, {7, 0}, {7, 7}, {0, 7}, {0, 2}, {5, 2}, {5, 5}, {2, 5},
                          {2, 4}, {4, 4}, {4, 3}, {1, 3}, {1, 6}, {6, 6}, {6, 1}, {0, 1}};
    const Mesh mesh = prism_mesh(spiral, 0, 1);
    expect_closed(mesh);
    EXPECT_NEAR(mesh.volume_mm3(), area(spiral), rounding);
    for (const auto& [a, b, c] : mesh.triangles)
        EXPECT_GT((mesh.points[b] - mesh.points[a]).cross(mesh.points[c] - mesh.points[a]).norm(), 0);
}

TEST(PrismMesh, OfALineIsEmpty) {
    EXPECT_TRUE(prism_mesh({{0, 0}, {1, 0}, {2, 0}}, 0, 1).empty());
}

TEST(Mesh, AddPlacesTheOtherAndMayAddItself) {
    Mesh mesh = box_mesh({0, 0, 0}, {1, 1, 1});
    mesh.add(box_mesh({0, 0, 0}, {1, 1, 1}), Pose::move(5, 0, 0));
    EXPECT_NEAR(mesh.volume_mm3(), 2, rounding);
    EXPECT_EQ(mesh.box().max, Vec3(6, 1, 1));
    mesh.add(mesh, Pose::move(0, 0, 10));
    EXPECT_NEAR(mesh.volume_mm3(), 4, rounding);
    EXPECT_EQ(mesh.box().max, Vec3(6, 1, 11));
}

}  // namespace
}  // namespace setwright::space
