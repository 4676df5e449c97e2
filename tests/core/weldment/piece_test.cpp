#include "core/weldment/piece.h"

#include <gtest/gtest.h>

#include "tests/core/weldment/stock_bodies.h"

namespace setwright::weldment {
namespace {

using space::Brep;
using space::Pose;
using space::Vec3;

Piece piece_of(const Brep& body) {
    return make_piece(solid(body), {});
}

/// Mitred at one end across its width, at the other across its depth: has a hand unless the section is square.
Brep twisted(double width_mm, double depth_mm) {
    const Brep low = cut_off(tube(width_mm, depth_mm, 3, -100, 500), {0, 0, 0}, {-1, 0, -1});
    return cut_off(low, {0, 0, 400}, {0, -1, 1});
}

TEST(Piece, FrameSitsOnTheAxisAtTheLowestPoint) {
    const Piece piece = piece_of(tube(60, 40, 3, 0, 500).moved(Pose::move(10, 20, 30)));
    EXPECT_NEAR((piece.X_MP.position() - Vec3(10, 20, 30)).norm(), 0, 1e-6);
    EXPECT_NEAR(piece.solid->box.min.z(), 0, 1e-6);
    EXPECT_NEAR(piece.solid->box.max.x(), 30, 1e-6);
    EXPECT_NEAR(piece.solid->box.max.y(), 20, 1e-6);
    EXPECT_NEAR(piece.X_MP.rotation().determinant(), 1, 1e-9);
}

TEST(Piece, NumbersDoNotDependOnThePose) {
    const Brep body = twisted(60, 40);
    const Piece straight = piece_of(body);
    const Piece skew = piece_of(body.moved(skew_pose()));
    constexpr double same = 1e-6;
    EXPECT_EQ(skew.section.kind, straight.section.kind);
    EXPECT_NEAR(skew.section.width_mm, straight.section.width_mm, same);
    EXPECT_NEAR(skew.section.wall_mm, straight.section.wall_mm, same);
    EXPECT_NEAR(skew.length_mm, straight.length_mm, same);
    EXPECT_NEAR(skew.long_point_mm, straight.long_point_mm, same);
    EXPECT_NEAR(skew.short_point_mm, straight.short_point_mm, same);
    EXPECT_NEAR(skew.mass_kg, straight.mass_kg, same);
    EXPECT_EQ(skew.shape, PieceShape::twisted);
    EXPECT_EQ(skew.fingerprint.handedness, straight.fingerprint.handedness);
    EXPECT_NEAR((skew.fingerprint.principal_moments - straight.fingerprint.principal_moments).norm() /
                    straight.fingerprint.principal_moments.norm(),
                0, same);
    EXPECT_TRUE(same_shape(straight, skew, false));
}

TEST(Piece, MassIsThatOfCarbonSteel) {
    // Flat 50 x 10: 3.925 kg/m at 7850 kg/m3.
    EXPECT_NEAR(piece_of(bar(50, 10, 1000)).mass_kg, 3.925, 1e-6);
}

TEST(Piece, TheOtherHandIsNotTheSameShape) {
    const Brep body = twisted(60, 40);
    const Piece right = piece_of(body);
    const Piece left = piece_of(body.mirrored(Vec3(1, 2, 3).normalized()).value());
    EXPECT_NE(right.fingerprint.handedness, 0);
    EXPECT_EQ(left.fingerprint.handedness, -right.fingerprint.handedness);
    EXPECT_FALSE(same_shape(right, left, false));
    EXPECT_TRUE(same_shape(right, left, true));
    EXPECT_FALSE(same_shape(right, right, true));
}

TEST(Piece, AHandIsSeenWhereHalfATurnGivesTheShapeBack) {
    // Square, mitred in two planes: turned end for end about the diagonal it is the same, yet its mirror image is not.
    const Brep body = twisted(50, 50).moved(skew_pose());
    const Piece right = piece_of(body);
    const Piece left = piece_of(body.mirrored(Vec3::UnitX()).value());
    EXPECT_NE(right.fingerprint.handedness, 0);
    EXPECT_EQ(left.fingerprint.handedness, -right.fingerprint.handedness);
    EXPECT_FALSE(same_shape(right, left, false));
}

TEST(Piece, AShapeThatIsItsOwnMirrorImageHasNoHand) {
    EXPECT_EQ(piece_of(tube(50, 50, 3, 0, 500).moved(skew_pose())).fingerprint.handedness, 0);
    // Any plain plate mirrors across its own middle.
    const Brep corner = Brep::prism({{0, 0}, {200, 0}, {200, 60}, {60, 60}, {60, 150}, {0, 150}}, {}, 0, 10).value();
    EXPECT_EQ(piece_of(corner.moved(skew_pose())).fingerprint.handedness, 0);
}

TEST(Piece, AHoleElsewhereMakesAnotherShape) {
    const auto drilled = [](double y) {
        return Brep::cut(Brep::box({0, 0, 0}, {80, 50, 8}), Brep::cylinder({40, y, -1}, {40, y, 9}, 6.5)).value();
    };
    const Piece a = piece_of(drilled(20));
    // The same plate turned over end for end is the same; one drilled 5 further is not.
    EXPECT_TRUE(same_shape(a, piece_of(drilled(30)), false));
    EXPECT_FALSE(same_shape(a, piece_of(drilled(15)), false));
}

TEST(Piece, FacesAreFoundAgainByTheirKeys) {
    const Brep body = Brep::cut(twisted(60, 40), Brep::cylinder({0, -50, 200}, {0, 50, 200}, 6)).value();
    const Piece before = piece_of(body);
    // Moved without turning, so that P's axes keep their signs.
    const Piece after = piece_of(body.moved(Pose::move(7, 8, 9)));
    ASSERT_EQ(before.solid->faces.size(), after.solid->faces.size());
    for (std::size_t i = 0; i < before.solid->faces.size(); ++i) {
        EXPECT_EQ(find_face(before, face_key(before, static_cast<int>(i))), static_cast<int>(i));
        const int found = find_face(after, face_key(before, static_cast<int>(i)));
        ASSERT_GE(found, 0);
        const Vec3 apart =
            after.solid->faces[static_cast<std::size_t>(found)].centroid - before.solid->faces[i].centroid;
        EXPECT_NEAR(apart.norm(), 0, 1e-6);
    }
    FaceKey gone = face_key(before, before.ends[0].face);
    gone.offset_mm += 1;
    EXPECT_EQ(find_face(before, gone), -1);
}

}  // namespace
}  // namespace setwright::weldment
