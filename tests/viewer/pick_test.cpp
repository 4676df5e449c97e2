#include "viewer/pick.h"

#include <cmath>
#include <random>

#include "tests/viewer/sample_job.h"

namespace setwright::viewer {
namespace {

constexpr double exact = 1e-9;

Ray down(double x, double y) {
    return {Vec3(x, y, 1000), -Vec3::UnitZ()};
}

TEST(Pick, FromAboveTheTopOfTheBarIsHit) {
    const Picked picked = pick(small_scene(), down(150, 120));
    ASSERT_EQ(picked.kind, Picked::Kind::item);
    ASSERT_TRUE(picked.piece());
    EXPECT_EQ(*picked.piece(), bar);
    EXPECT_EQ(picked.face, 5);
    EXPECT_LT((picked.point_T - Vec3(150, 120, 50)).norm(), exact);
    EXPECT_LT((picked.normal_T - Vec3::UnitZ()).norm(), exact);
    // Behind the bar: (150, 120) lies nearest to column 3 and row 1 of a 50 × 100 grid.
    EXPECT_EQ(picked.hole, (shop::Hole{3, 1}));
    ASSERT_TRUE(picked.on_table_T);
    EXPECT_LT((*picked.on_table_T - Vec3(150, 120, 0)).norm(), exact);
}

TEST(Pick, ABlockIsPickedByItsIdWithoutAFace) {
    const Picked picked = pick(small_scene(), down(380, 220));
    ASSERT_TRUE(picked.placement());
    EXPECT_EQ(*picked.placement(), block);
    EXPECT_EQ(picked.face, -1);
    EXPECT_NEAR(picked.point_T.z(), 100, exact);
}

TEST(Pick, HolesAreRoundedToTheNearest) {
    const Scene scene = small_scene();
    // Half a pitch is 25 across and 50 along.
    EXPECT_EQ(pick(scene, down(24, 49)).hole, (shop::Hole{0, 0}));
    EXPECT_EQ(pick(scene, down(26, 51)).hole, (shop::Hole{1, 1}));
    EXPECT_EQ(pick(scene, down(-24, -49)).hole, (shop::Hole{0, 0})) << "on the margin";
    EXPECT_EQ(pick(scene, down(474, 349)).hole, (shop::Hole{9, 3}));
    EXPECT_EQ(pick(scene, down(24, 49)).kind, Picked::Kind::table);
}

TEST(Pick, BesideTheTableThereIsNothingButItsPlane) {
    const Picked picked = pick(small_scene(), down(700, 100));
    EXPECT_EQ(picked.kind, Picked::Kind::nothing);
    EXPECT_FALSE(picked.hole);
    ASSERT_TRUE(picked.on_table_T);
    EXPECT_LT((*picked.on_table_T - Vec3(700, 100, 0)).norm(), exact);
}

TEST(Pick, FromTheSideThePlateHasASide) {
    const Picked picked = pick(small_scene(), {Vec3(200, -1000, -10), Vec3::UnitY()});
    EXPECT_EQ(picked.kind, Picked::Kind::table);
    EXPECT_LT((picked.point_T - Vec3(200, -50, -10)).norm(), exact);
    EXPECT_EQ(picked.normal_T, Vec3(-Vec3::UnitY()));
    EXPECT_FALSE(picked.on_table_T) << "a ray along the top meets it nowhere";
    const Picked on_bar = pick(small_scene(), {Vec3(200, -1000, 20), Vec3::UnitY()});
    ASSERT_TRUE(on_bar.piece());
    EXPECT_EQ(on_bar.face, 2);
}

TEST(Pick, FromBelowThePlateHidesWhatStandsOnIt) {
    const Picked picked = pick(small_scene(), {Vec3(150, 120, -500), Vec3::UnitZ()}, 5);
    EXPECT_EQ(picked.kind, Picked::Kind::table);
    EXPECT_EQ(picked.normal_T, Vec3(-Vec3::UnitZ()));
    EXPECT_EQ(pick(small_scene(), {Vec3(150, 102, -500), Vec3::UnitZ()}, 5).kind, Picked::Kind::table);
}

TEST(Pick, SkewRaysMeetASkewBoxWhereItsFacesAre) {
    // The box turned and moved anywhere; rays aimed at known points of its faces from outside.
    std::mt19937 random(3);
    std::uniform_real_distribution<double> unit(-1, 1);
    const Vec3 size(200, 50, 50);
    int hit = 0;
    for (int i = 0; i < 500; ++i) {
        Scene scene;
        scene.table = small_table();
        const Pose X = Pose::move(Vec3(unit(random), unit(random), 0) * 300 + Vec3(0, 0, 800)) *
                       Pose::from_axes(Vec3::Zero(), Vec3(unit(random), unit(random), 1).normalized(), Vec3::UnitX());
        scene.items[bar] = {box_shape(Vec3::Zero(), size), X, "bar", false};
        const int axis = i % 3;
        const bool far = i % 2;
        Vec3 p = Vec3(std::abs(unit(random)), std::abs(unit(random)), std::abs(unit(random))).cwiseProduct(size);
        p[axis] = far ? size[axis] : 0;
        const Vec3 n = (far ? 1.0 : -1.0) * Vec3::Unit(axis);
        Vec3 from = Vec3(unit(random), unit(random), unit(random));
        from[axis] = 0;
        from += n;
        const Vec3 origin = X * (p + from.normalized() * 400);
        const Picked picked = pick(scene, {origin, (X * p - origin).normalized()});
        if (picked.kind != Picked::Kind::item) continue;  // The plate may stand before it.
        ++hit;
        EXPECT_EQ(picked.face, 2 * axis + far);
        EXPECT_LT((picked.point_T - X * p).norm(), 1e-7);
        EXPECT_LT((picked.normal_T - X.turn(n)).norm(), exact);
    }
    EXPECT_GT(hit, 400);
}

TEST(Pick, WhatIsDraggedIsLeftOut) {
    const auto others = [](const ItemId& id) { return id != ItemId(bar); };
    EXPECT_EQ(pick(small_scene(), down(150, 120), 0, others).kind, Picked::Kind::table);
    EXPECT_EQ(pick(small_scene(), down(150, 102), 5, others).kind, Picked::Kind::table);
}

TEST(Pick, InAPlanAnUprightFaceGoesBeforeTheFaceBesideIt) {
    const Scene scene = small_scene();
    // 3 inside the bar's south side and 3 outside of it.
    for (const double y : {103.0, 97.0}) {
        const Picked picked = pick(scene, down(150, y), 4);
        ASSERT_TRUE(picked.piece()) << y;
        EXPECT_EQ(picked.face, 2);
        EXPECT_LT((picked.normal_T + Vec3::UnitY()).norm(), exact);
        EXPECT_LT((picked.point_T - Vec3(150, 100, 50)).norm(), exact);
    }
    EXPECT_EQ(pick(scene, down(150, 105), 4).face, 5) << "beyond the aperture the top is picked";
    EXPECT_EQ(pick(scene, down(150, 95), 4).kind, Picked::Kind::table);
    EXPECT_EQ(pick(scene, down(150, 103)).face, 5) << "without an aperture as well";
    // Near a corner the nearer of two sides.
    EXPECT_EQ(pick(scene, down(103, 102), 4).face, 2);
    EXPECT_EQ(pick(scene, down(102, 103), 4).face, 0);
    // Off its end: (98, 97) is hypot(2, 3) = 3.6 from the corner and within 4, (96, 97) is 5.
    EXPECT_TRUE(pick(scene, down(98, 97), 4).piece());
    EXPECT_FALSE(pick(scene, down(96, 97), 4).piece());
}

TEST(Pick, AnUprightFaceThatSomethingCoversIsNotPicked) {
    Scene scene = small_scene();
    const PlacementId lid{7};
    scene.items[lid] = {box_shape(Vec3(-30, -30, 60), Vec3(30, 30, 70)), Pose::move(150, 100, 0), "2", false};
    const Picked picked = pick(scene, down(150, 101), 4);
    ASSERT_TRUE(picked.placement());
    EXPECT_EQ(*picked.placement(), lid);
    // A piece of the same height against it closes the face: there is nothing to touch.
    Scene butted = small_scene();
    butted.items[PieceId{9}] = {box_shape(Vec3(0, 0, 0), Vec3(50, 100, 50)), Pose::move(150, 0, 0), "leg", false};
    const Picked top = pick(butted, down(175, 101), 4);
    ASSERT_TRUE(top.piece());
    EXPECT_EQ(*top.piece(), bar);
    EXPECT_EQ(top.face, 5);
}

TEST(Pick, OfUprightFacesInOneLineTheUpperIsPicked) {
    Scene scene = small_scene();
    const PieceId upper{9};
    scene.items[upper] = {box_shape(Vec3(0, 0, 50), Vec3(200, 50, 100)), Pose::move(100, 100, 0), "upper", false};
    const Picked picked = pick(scene, down(150, 99), 4);
    ASSERT_TRUE(picked.piece());
    EXPECT_EQ(*picked.piece(), upper);
}

TEST(Pick, TheWallsOfARealTubeArePickedFromAbove) {
    const Job& job = sample_job("D1");
    ShapeBook shapes;
    const Scene scene = make_scene(job, job.stages[0].id, shapes);
    // At each middle of an upright outer wall there is either that wall, or a block or piece in front of it.
    int walls = 0;
    for (const PieceId id : job.stages[0].pieces) {
        const weldment::Piece& piece = *job.find_piece(id);
        const Pose& X = scene.items.at(id).X_TS;
        for (std::size_t f = 0; f < piece.solid->faces.size(); ++f) {
            const space::Face& face = piece.solid->faces[f];
            if (face.surface.kind != space::SurfaceKind::plane || face.area_mm2 < 10000) continue;
            const Vec3 n = X.turn(face.surface.axis);
            if (std::abs(n.z()) > 1e-6) continue;
            const Vec3 at = X * face.centroid + 0.5 * n;
            const Picked picked = pick(scene, down(at.x(), at.y()), 3);
            if (!picked.piece() || *picked.piece() != id || picked.face != static_cast<int>(f)) continue;
            ++walls;
            EXPECT_LT((picked.normal_T - n).norm(), 1e-6);
        }
    }
    EXPECT_GE(walls, 8);
}

}  // namespace
}  // namespace setwright::viewer
