#include "core/weldment/section.h"

#include <gtest/gtest.h>

#include "tests/core/weldment/stock_bodies.h"

namespace setwright::weldment {
namespace {

using space::Brep;
using space::Mat3;
using space::Vec3;

SectionFit fit(const Brep& body, const Mat3& R_MD = Mat3::Identity()) {
    return fit_section(solid(body), R_MD);
}

TEST(Section, SharpCorneredTubeHasWallAndNoRadius) {
    const SectionFit found = fit(tube(50, 50, 3, 0, 400).moved(skew_pose()));
    EXPECT_EQ(found.section.kind, SectionKind::square_tube);
    EXPECT_NEAR(found.section.width_mm, 50, 1e-6);
    EXPECT_NEAR(found.section.depth_mm, 50, 1e-6);
    EXPECT_NEAR(found.section.wall_mm, 3, 1e-6);
    EXPECT_EQ(found.section.corner_radius_mm, 0);
    EXPECT_TRUE(found.reason.empty());
}

TEST(Section, RectangularTubeHasItsWiderSideAlongX) {
    // Drawn 40 along x and 60 along y.
    const SectionFit found = fit(tube(40, 60, 3, 0, 500));
    EXPECT_EQ(found.section.kind, SectionKind::rect_tube);
    EXPECT_NEAR(found.section.width_mm, 60, 1e-6);
    EXPECT_NEAR(found.section.depth_mm, 40, 1e-6);
    EXPECT_NEAR((found.x - Vec3::UnitY()).norm(), 0, 1e-9);
    EXPECT_NEAR((found.z - Vec3::UnitZ()).norm(), 0, 1e-9);
}

TEST(Section, AShortTubeIsStillATube) {
    const SectionFit found = fit(tube(50, 50, 3, 0, 30));
    EXPECT_EQ(found.section.kind, SectionKind::square_tube);
    EXPECT_NEAR((found.z - Vec3::UnitZ()).norm(), 0, 1e-9);
}

TEST(Section, FlatBarIsNarrowAndLongAndAllElseIsPlate) {
    // Common practice, no source: up to 150 wide and at least three widths long.
    EXPECT_EQ(fit(bar(50, 8, 150)).section.kind, SectionKind::flat_bar);
    EXPECT_EQ(fit(bar(50, 8, 149)).section.kind, SectionKind::plate);
    EXPECT_EQ(fit(bar(150, 8, 1000)).section.kind, SectionKind::flat_bar);
    EXPECT_EQ(fit(bar(151, 8, 1000)).section.kind, SectionKind::plate);
}

TEST(Section, ASnippedFlatBarIsStillFlatBar) {
    const Brep snipped = Brep::prism({{0, 0}, {300, 0}, {300, 40}, {290, 50}, {0, 50}}, {}, 0, 8).value();
    const SectionFit found = fit(snipped.moved(skew_pose()));
    EXPECT_EQ(found.section.kind, SectionKind::flat_bar);
    EXPECT_NEAR(found.section.width_mm, 50, 1e-6);
    EXPECT_EQ(found.faces_left, 0);
}

TEST(Section, PlateHasThicknessAlongYAndItsLongerSideAlongZ) {
    const SectionFit found = fit(Brep::box({0, 0, 0}, {80, 120, 6}));
    EXPECT_EQ(found.section.kind, SectionKind::plate);
    EXPECT_NEAR(found.section.width_mm, 80, 1e-6);
    EXPECT_NEAR(found.section.depth_mm, 6, 1e-6);
    EXPECT_NEAR((found.z - Vec3::UnitY()).norm(), 0, 1e-9);
    EXPECT_NEAR((found.x - Vec3::UnitX()).norm(), 0, 1e-9);
}

TEST(Section, HolesDoNotChangeAPlate) {
    const Brep plate =
        Brep::cut(Brep::box({0, 0, 0}, {120, 120, 8}), Brep::cylinder({20, 20, -1}, {20, 20, 9}, 4.5)).value();
    const SectionFit found = fit(plate);
    EXPECT_EQ(found.section.kind, SectionKind::plate);
    EXPECT_NEAR(found.section.width_mm, 120, 1e-6);
    EXPECT_EQ(found.faces_left, 0);
}

TEST(Section, SquareBarIsSolid) {
    EXPECT_EQ(fit(bar(20, 20, 300)).section.kind, SectionKind::square_bar);
}

TEST(Section, GussetAndCornerPlateArePlatesOfTheirExtents) {
    // The gusset of a bracket: 150 x 150 x 8 with a 15 snipe at the root.
    const Brep gusset = Brep::prism({{15, 0}, {150, 0}, {0, 150}, {0, 15}}, {}, 0, 8).value();
    const SectionFit triangle = fit(gusset.moved(skew_pose()));
    EXPECT_EQ(triangle.section.kind, SectionKind::plate);
    EXPECT_NEAR(triangle.section.depth_mm, 8, 1e-6);
    const Brep corner = Brep::prism({{0, 0}, {200, 0}, {200, 60}, {60, 60}, {60, 150}, {0, 150}}, {}, 0, 10).value();
    const SectionFit found = fit(corner);
    EXPECT_EQ(found.section.kind, SectionKind::plate);
    EXPECT_NEAR(found.section.width_mm, 150, 1e-6);
    EXPECT_NEAR(found.section.depth_mm, 10, 1e-6);
    EXPECT_NEAR((found.z - Vec3::UnitX()).norm(), 0, 1e-9);
}

TEST(Section, WhatIsNotUnderstoodIsOtherAndSaysWhy) {
    const SectionFit round = fit(Brep::cylinder({0, 0, 0}, {0, 0, 300}, 24.15));
    EXPECT_EQ(round.section.kind, SectionKind::other);
    EXPECT_EQ(round.reason.id, "piece.reason_round");

    const Brep angle = Brep::prism({{0, 0}, {50, 0}, {50, 5}, {5, 5}, {5, 50}, {0, 50}}, {}, 0, 600).value();
    EXPECT_EQ(fit(angle).section.kind, SectionKind::other);
    EXPECT_EQ(fit(angle).reason.id, "piece.reason_profile");

    space::Polygon2 off_centre{{-22, -21}, {-22, 21}, {21, 21}, {21, -21}};
    const Brep uneven = Brep::prism(rectangle(50, 50), {off_centre}, 0, 400).value();
    EXPECT_EQ(fit(uneven).section.kind, SectionKind::other);
    EXPECT_EQ(fit(uneven).reason.id, "piece.reason_walls_differ");
}

TEST(Section, AxesTakeTheirSignFromTheWeldmentNotFromTheDrawing) {
    // Drawn along z, placed along (-1, 0, 1): X and Z tie, X decides, so z runs along (1, 0, -1).
    const space::Pose X_MD =
        space::Pose::from_axes(Vec3::Zero(), Vec3(-1, 0, 1).normalized(), Vec3(1, 0, 1).normalized());
    const SectionFit found = fit(tube(40, 40, 3, 0, 600), X_MD.rotation());
    EXPECT_NEAR((X_MD.turn(found.z) - Vec3(1, 0, -1).normalized()).norm(), 0, 1e-9);
    // Of the two sides (0, 1, 0) and (1, 0, 1) the one with more X.
    EXPECT_NEAR((X_MD.turn(found.x) - Vec3(1, 0, 1).normalized()).norm(), 0, 1e-9);
}

}  // namespace
}  // namespace setwright::weldment
