#include "core/weldment/end_cut.h"

#include <gtest/gtest.h>

#include <numbers>

#include "tests/core/weldment/stock_bodies.h"

namespace setwright::weldment {
namespace {

using space::Brep;
using space::Vec3;

double tangent(double angle_deg) {
    return std::tan(angle_deg * std::numbers::pi / 180);
}

Piece piece_of(const Brep& body) {
    return make_piece(solid(body), {});
}

/// A tube along z with the end planes z = z0 + slope.(x, y).
Brep cut_tube(double width_mm, double depth_mm, double wall_mm, double z0, const space::Vec2& slope0, double z1,
              const space::Vec2& slope1) {
    const Brep stock = tube(width_mm, depth_mm, wall_mm, z0 - 200, z1 + 200);
    const Brep low = cut_off(stock, {0, 0, z0}, {slope0.x(), slope0.y(), -1});
    return cut_off(low, {0, 0, z1}, {-slope1.x(), -slope1.y(), 1});
}

TEST(EndCut, BothEndsSquareIsStraight) {
    const Piece piece = piece_of(tube(50, 50, 3, 100, 675).moved(skew_pose()));
    for (const EndCut& end : piece.ends) {
        EXPECT_EQ(end.kind, EndKind::square);
        EXPECT_EQ(end.angle_deg, 0);
        EXPECT_GE(end.face, 0);
    }
    EXPECT_EQ(piece.shape, PieceShape::straight);
    EXPECT_NEAR(piece.length_mm, 575, 1e-6);
    EXPECT_NEAR(piece.long_point_mm, 575, 1e-6);
    EXPECT_NEAR(piece.short_point_mm, 575, 1e-6);
}

TEST(EndCut, LongPointsOnOneSideMakeATrapezoid) {
    // Gate stile: 60 x 40, both ends 45: long 800, short 800 - 2 x 60.
    const Piece piece = piece_of(cut_tube(60, 40, 3, 0, {-1, 0}, 740, {1, 0}));
    EXPECT_EQ(piece.shape, PieceShape::trapezoid);
    for (const EndCut& end : piece.ends) {
        EXPECT_EQ(end.kind, EndKind::mitre);
        EXPECT_NEAR(end.angle_deg, 45, 1e-6);
        EXPECT_NEAR(end.plane_deg, 0, 1e-6);
    }
    EXPECT_NEAR(piece.length_mm, 800, 1e-6);
    EXPECT_NEAR(piece.long_point_mm, 800, 1e-6);
    EXPECT_NEAR(piece.short_point_mm, 680, 1e-6);
    EXPECT_NEAR(piece.centre_mm, 740, 1e-6);
}

TEST(EndCut, ParallelCutsMakeAParallelogram) {
    // Trestle leg of the samples: axis 672.93, both ends 15 parallel, tip to tip 683.65 = axis + 40 tan 15.
    const Piece piece = piece_of(cut_tube(40, 40, 2.5, 0, {tangent(15), 0}, 672.93, {tangent(15), 0}));
    EXPECT_EQ(piece.shape, PieceShape::parallelogram);
    EXPECT_NEAR(piece.ends[0].angle_deg, 15, 1e-6);
    EXPECT_NEAR(piece.ends[0].plane_deg, 180, 1e-6);
    EXPECT_NEAR(piece.ends[1].plane_deg, 0, 1e-6);
    EXPECT_NEAR(piece.length_mm, 683.65, 0.005);
    EXPECT_NEAR(piece.long_point_mm, 672.93, 1e-6);
    EXPECT_NEAR(piece.short_point_mm, 672.93, 1e-6);
}

TEST(EndCut, MitresInTwoPlanesAreTwisted) {
    const Piece piece = piece_of(cut_tube(60, 40, 3, 0, {-1, 0}, 500, {0, tangent(30)}));
    EXPECT_EQ(piece.shape, PieceShape::twisted);
    EXPECT_NEAR(piece.ends[1].angle_deg, 30, 1e-6);
    EXPECT_NEAR(piece.ends[1].plane_deg, 90, 1e-6);
}

TEST(EndCut, OneSquareOneMitredIsATrapezoid) {
    const Piece piece = piece_of(cut_tube(60, 40, 3, 0, {0, 0}, 500, {0, -tangent(22.5)}));
    EXPECT_EQ(piece.shape, PieceShape::trapezoid);
    EXPECT_EQ(piece.ends[0].kind, EndKind::square);
    EXPECT_NEAR(piece.ends[1].angle_deg, 22.5, 1e-6);
    EXPECT_NEAR(piece.ends[1].plane_deg, 270, 1e-6);
    // Extremes at y = -20 and +20.
    EXPECT_NEAR(piece.long_point_mm, 500 + 20 * tangent(22.5), 1e-6);
    EXPECT_NEAR(piece.short_point_mm, 500 - 20 * tangent(22.5), 1e-6);
}

TEST(EndCut, LeaningAboutBothAxesIsCompound) {
    const Piece piece = piece_of(cut_tube(60, 40, 3, 0, {0, 0}, 500, {tangent(30), tangent(10)}));
    const EndCut& end = piece.ends[1];
    EXPECT_EQ(end.kind, EndKind::compound);
    EXPECT_NEAR(end.angle_deg, 30, 1e-6);
    EXPECT_NEAR(end.second_angle_deg, 10, 1e-6);
    EXPECT_NEAR(end.plane_deg, std::atan2(tangent(10), tangent(30)) * 180 / std::numbers::pi, 1e-6);
    EXPECT_NEAR(piece.length_mm, 500 + 30 * tangent(30) + 20 * tangent(10), 1e-6);
}

TEST(EndCut, AnglesAreReadToAHundredthOfADegree) {
    EXPECT_EQ(piece_of(cut_tube(50, 50, 3, 0, {0, 0}, 500, {tangent(0.005), 0})).ends[1].kind, EndKind::square);
    const Piece piece = piece_of(cut_tube(50, 50, 3, 0, {0, 0}, 500, {tangent(45.25), 0}));
    EXPECT_NEAR(piece.ends[1].angle_deg, 45.25, 0.001);
}

TEST(EndCut, AnEndThatIsNotOnePlaneIsOther) {
    // A step of half the section.
    const Brep stepped = Brep::cut(tube(50, 50, 3, 0, 500), Brep::box({0, -40, 470}, {40, 40, 520})).value();
    const Piece piece = piece_of(stepped);
    EXPECT_EQ(piece.section.kind, SectionKind::square_tube);
    EXPECT_EQ(piece.ends[0].kind, EndKind::square);
    EXPECT_EQ(piece.ends[1].kind, EndKind::other);
    EXPECT_EQ(piece.ends[1].face, -1);
    EXPECT_TRUE(doubts(piece.doubts, "piece.end_other"));
    EXPECT_NEAR(piece.length_mm, 500, 1e-6);
}

}  // namespace
}  // namespace setwright::weldment
