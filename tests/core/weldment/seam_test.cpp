#include "core/weldment/seam.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <numbers>

#include "tests/core/weldment/sample_weldment.h"
#include "tests/core/weldment/stock_bodies.h"

namespace setwright::weldment {
namespace {

using space::Brep;
using space::Pose;
using space::Vec3;

const double diagonal = std::numbers::sqrt2;
/// Matched tubes of 50 or 40 high, T 3, R 6: the inner wall ends 3 inside the radius' 6, so it stands 6 - sqrt(6^2 -
/// 3^2) over it.
const double over_radius = 6 - std::sqrt(6.0 * 6 - 3.0 * 3);

struct Line {
    std::string on, stands;
    SeamKind kind;
    double length_mm;
    double gap_mm;
    double air_deg;
};

/// Lists by hand against what was found, whatever the order.
void expect_lines(const Sample& sample, const std::vector<Line>& lines) {
    std::vector<bool> taken(sample.weldment.seams.size(), false);
    for (const Line& line : lines) {
        const Piece* first = sample.piece(line.stands);
        const Piece* second = sample.piece(line.on);
        ASSERT_TRUE(first && second);
        bool found = false;
        for (std::size_t i = 0; i < taken.size() && !found; ++i) {
            const Seam& seam = sample.weldment.seams[i];
            const bool standing = seam.pieces == std::array{first->id, second->id};
            // A mitre has no piece that stands on the other.
            const bool either =
                standing || (first->ends[0].kind == EndKind::mitre && second->ends[0].kind == EndKind::mitre &&
                             seam.pieces == std::array{second->id, first->id});
            if (taken[i] || !either || seam.kind != line.kind || std::abs(seam.length_mm - line.length_mm) > 0.001 ||
                std::abs(seam.gap_mm - line.gap_mm) > 0.001 || std::abs(seam.dihedral_deg - line.air_deg) > 0.001) {
                continue;
            }
            found = taken[i] = true;
            EXPECT_TRUE(seam.doubts.empty());
        }
        EXPECT_TRUE(found) << line.stands << " on " << line.on << ", " << key(line.kind) << ", " << line.length_mm;
    }
    EXPECT_EQ(lines.size(), sample.weldment.seams.size());
}

void add_matched(std::vector<Line>& lines, const std::string& stands, const std::string& on, double side_mm,
                 double over_mm) {
    for (int i = 0; i < 2; ++i) {
        lines.push_back({on, stands, SeamKind::fillet, side_mm, 0, 90});
        lines.push_back({on, stands, SeamKind::flare_bevel, over_mm, over_radius, 135});
    }
}

/// A 40 x 40 x 3 brace at 45 degrees: flats 28 wide; sides 28 sqrt 2 along the slanted cut.
void add_brace(std::vector<Line>& lines, const std::string& brace, const std::string& on) {
    lines.push_back({on, brace, SeamKind::fillet, 28, 0, 45});
    lines.push_back({on, brace, SeamKind::fillet, 28, 0, 135});
    for (int i = 0; i < 2; ++i) lines.push_back({on, brace, SeamKind::fillet, 28 * diagonal, 0, 90});
}

TEST(Seam, GrinderStandHasTheSeamsOfItsEightJoints) {
    std::vector<Line> lines;
    add_matched(lines, "P2", "P1", 38, 38);
    add_matched(lines, "P3", "P1", 38, 38);
    add_brace(lines, "P4", "P1");
    add_brace(lines, "P4", "P3");
    add_brace(lines, "P5", "P2");
    add_brace(lines, "P5", "P3");
    for (int i = 0; i < 4; ++i) lines.push_back({"P6", "P3", SeamKind::fillet, 38, 0, 90});
    for (int i = 0; i < 2; ++i) {
        lines.push_back({"P3", "P7", SeamKind::fillet, 60, 0, 90});
        lines.push_back({"P3", "P7", SeamKind::fillet, 6, 0, 90});
    }
    // Not P2 with P3: they share an edge only.
    expect_lines(sample("D1"), lines);
}

TEST(Seam, GateFrameHasFourMitresAMidRailAndTwoTabs) {
    std::vector<Line> lines;
    for (const char* rail : {"A1", "A2"}) {
        for (const char* stile : {"B1", "B2"}) {
            // 60 wide less two radii, along the mitre; 40 high less two radii.
            for (int i = 0; i < 2; ++i) lines.push_back({stile, rail, SeamKind::square_butt, 48 * diagonal, 0, 180});
            lines.push_back({stile, rail, SeamKind::square_butt, 28, 0, 270});
            lines.push_back({stile, rail, SeamKind::fillet, 28, 0, 90});
        }
        add_matched(lines, "M1", rail, 28, 48);
    }
    for (const char* tab : {"T1", "T2"}) {
        for (int i = 0; i < 2; ++i) {
            lines.push_back({"B1", tab, SeamKind::fillet, 80, 0, 90});
            lines.push_back({"B1", tab, SeamKind::fillet, 8, 0, 90});
        }
    }
    expect_lines(sample("D2"), lines);
}

TEST(Seam, ALineHasItsPathAndBothFacesOutwardInTheWeldment) {
    const Sample stand = sample("D1");
    const Piece& lug = *stand.piece("P7");
    for (const Seam& seam : stand.weldment.seams) {
        if (seam.pieces[0] != lug.id || seam.n1_M.y() < 0.9) continue;
        // The lug's +Y side (Y = 15) on the upright's -X side (X = 175).
        ASSERT_EQ(seam.path_M.size(), 2u);
        EXPECT_NEAR((seam.path_M[0] + seam.path_M[1] - Vec3(350, 30, 1200)).norm(), 0, 1e-6);
        EXPECT_NEAR((seam.n1_M - Vec3::UnitY()).norm(), 0, 1e-9);
        EXPECT_NEAR((seam.n2_M + Vec3::UnitX()).norm(), 0, 1e-9);
        EXPECT_FALSE(seam.size_mm.has_value());
        return;
    }
    FAIL() << "no seam on the lug's far side";
}

TEST(Seam, NumbersDoNotDependOnThePose) {
    space::Bodies read = sample_bodies("D1");
    const Weldment straight = recognise(read);
    for (space::Body& body : read.bodies) body.X_MD = skew_pose() * body.X_MD;
    const Weldment skew = recognise(read);
    ASSERT_EQ(skew.seams.size(), straight.seams.size());
    for (std::size_t i = 0; i < skew.seams.size(); ++i) {
        EXPECT_EQ(skew.seams[i].pieces, straight.seams[i].pieces);
        EXPECT_EQ(skew.seams[i].faces, straight.seams[i].faces);
        EXPECT_EQ(skew.seams[i].kind, straight.seams[i].kind);
        EXPECT_NEAR(skew.seams[i].length_mm, straight.seams[i].length_mm, 1e-6);
        EXPECT_NEAR(skew.seams[i].gap_mm, straight.seams[i].gap_mm, 1e-6);
        EXPECT_NEAR((skew.seams[i].n1_M - skew_pose().turn(straight.seams[i].n1_M)).norm(), 0, 1e-6);
        EXPECT_NEAR((skew.seams[i].n2_M - skew_pose().turn(straight.seams[i].n2_M)).norm(), 0, 1e-6);
    }
    for (std::size_t i = 0; i < skew.pieces.size(); ++i) {
        EXPECT_EQ(skew.pieces[i].section.kind, straight.pieces[i].section.kind);
        EXPECT_NEAR(skew.pieces[i].length_mm, straight.pieces[i].length_mm, 1e-6);
        EXPECT_NEAR(skew.pieces[i].section.corner_radius_mm, straight.pieces[i].section.corner_radius_mm, 1e-6);
    }
}

/// A post on a sharp-cornered rail, lifted by the gap.
Weldment post_on_rail(double gap_mm, const Pose& X = {}) {
    const Brep rail = tube(60, 60, 3, -200, 200).moved(Pose::turn_y(base::Angle::deg(90)));
    const Brep post = tube(40, 40, 3, 0, 300).moved(Pose::move(0, 0, 30 + gap_mm));
    return recognise(bodies({rail.moved(X), post.moved(X)}));
}

TEST(Seam, AGapIsMeasuredDoubtedAboveOneAndNoSeamAboveThree) {
    for (const double gap : {0.0, 0.9, 1.1, 2.9}) {
        const Weldment weldment = post_on_rail(gap, skew_pose());
        ASSERT_EQ(weldment.seams.size(), 4u) << gap;
        for (const Seam& seam : weldment.seams) {
            EXPECT_NEAR(seam.gap_mm, gap, 1e-6);
            EXPECT_NEAR(seam.length_mm, 40, 1e-6);
            EXPECT_EQ(doubts(seam.doubts, "seam.gap_wide"), gap > 1);
        }
    }
    const Weldment apart = post_on_rail(3.1);
    EXPECT_TRUE(apart.seams.empty());
    EXPECT_TRUE(doubts(apart.pieces[0].doubts, "piece.no_seam"));
}

TEST(Seam, PiecesSunkIntoOneAnotherKeepTheirSeamsAndAreDoubted) {
    const Weldment weldment = post_on_rail(-0.3);
    ASSERT_EQ(weldment.seams.size(), 4u);
    for (const Seam& seam : weldment.seams) {
        EXPECT_EQ(seam.gap_mm, 0);
        EXPECT_TRUE(doubts(seam.doubts, "seam.sunk"));
    }
}

TEST(Seam, ACutAQuarterDegreeOffLeavesItsHeelGap) {
    // 40 wide at 0.25 degrees: 0 at one side, 40 tan 0.25 = 0.1745 at the outside of the other, 37 tan 0.25 at its
    // root.
    const double slope = std::tan(0.25 * std::numbers::pi / 180);
    const Brep rail = tube(60, 60, 3, -200, 200).moved(Pose::turn_y(base::Angle::deg(90)));
    const Brep post = cut_off(tube(40, 40, 3, -20, 300), {-20, 0, 0}, {slope, 0, -1}).moved(Pose::move(0, 0, 30));
    const Weldment weldment = recognise(bodies({rail, post}));
    ASSERT_EQ(weldment.seams.size(), 4u);
    double widest = 0;
    for (const Seam& seam : weldment.seams) widest = std::max(widest, seam.gap_mm);
    EXPECT_NEAR(widest, 37 * slope, 1e-4);
}

TEST(Seam, SharpCornersThatEndFlushMakeAButt) {
    // Matched sharp-cornered tubes: two sides flush, two inside corners.
    const Brep rail = tube(50, 50, 3, -200, 200).moved(Pose::turn_y(base::Angle::deg(90)));
    const Weldment weldment = recognise(bodies({rail, tube(50, 50, 3, 25, 300)}));
    int butts = 0;
    int fillets = 0;
    for (const Seam& seam : weldment.seams) {
        EXPECT_NEAR(seam.length_mm, 50, 1e-6);
        butts += seam.kind == SeamKind::square_butt;
        fillets += seam.kind == SeamKind::fillet;
    }
    EXPECT_EQ(butts, 2);
    EXPECT_EQ(fillets, 2);
    EXPECT_EQ(weldment.seams.size(), 4u);
}

/// Two of D1's long rail (50 x 50 x 3, R 6, along X, Y -25 to 25, Z 0 to 50), the second moved.
Weldment two_rails(const Pose& X) {
    const space::Bodies read = sample_bodies("D1");
    const auto rail = std::max_element(read.bodies.begin(), read.bodies.end(), [&](const auto& a, const auto& b) {
        return read.solids[a.solid]->volume_mm3 < read.solids[b.solid]->volume_mm3;
    });
    space::Bodies two;
    two.file_unit = "mm";
    two.solids = {read.solids[rail->solid]};
    two.bodies = {*rail, *rail};
    for (space::Body& body : two.bodies) body.solid = 0;
    two.bodies[1].X_MD = X * rail->X_MD;
    return recognise(two);
}

TEST(Seam, TubesThatCrossAreWeldedInTheGrooveOfTheirRadii) {
    // Crossing at right angles, flat on flat: two lines on either tube, as long as the other's flat (38) with its radii
    // (6 each).
    const Weldment weldment = two_rails(Pose::move(450, -450, 50) * Pose::turn_z(base::Angle::deg(90)));
    ASSERT_EQ(weldment.seams.size(), 4u);
    for (const Seam& seam : weldment.seams) {
        EXPECT_EQ(seam.kind, SeamKind::flare_bevel);
        EXPECT_NEAR(seam.length_mm, 50, 1e-6);
        EXPECT_NEAR(seam.gap_mm, 0, 1e-6);
    }
}

TEST(Seam, TubesSideBySideMakeFlareGrooves) {
    // Staggered by 100: two grooves of 800, and each tube's end across the other's flat side.
    const Weldment weldment = two_rails(Pose::move(100, 50, 0));
    int grooves = 0;
    int ends = 0;
    for (const Seam& seam : weldment.seams) {
        const bool groove = seam.kind == SeamKind::flare_v;
        EXPECT_NEAR(seam.length_mm, groove ? 800 : 38, 1e-6);
        grooves += groove;
        ends += seam.kind == SeamKind::fillet;
    }
    EXPECT_EQ(grooves, 2);
    EXPECT_EQ(ends, 2);
    EXPECT_EQ(weldment.seams.size(), 4u);
}

TEST(Seam, LappedPlatesAreWeldedAlongEveryEdgeThatLies) {
    // 100 x 60 plates lapped by 40: one end of each lies on the other, the long edges are flush.
    const Brep lower = Brep::box({0, 0, 0}, {100, 60, 8});
    const Brep upper = Brep::box({60, 0, 8}, {160, 60, 16});
    const Weldment weldment = recognise(bodies({lower, upper}));
    int fillets = 0;
    int butts = 0;
    for (const Seam& seam : weldment.seams) {
        if (seam.kind == SeamKind::fillet) {
            EXPECT_NEAR(seam.length_mm, 60, 1e-6);
            ++fillets;
        } else {
            EXPECT_EQ(seam.kind, SeamKind::square_butt);
            EXPECT_NEAR(seam.length_mm, 40, 1e-6);
            ++butts;
        }
    }
    EXPECT_EQ(fillets, 2);
    EXPECT_EQ(butts, 2);
}

TEST(Seam, AHoleUnderAnEdgeInterruptsTheLine) {
    const Brep plate =
        Brep::cut(Brep::box({-100, -100, -8}, {100, 100, 0}), Brep::cylinder({0, 20, -9}, {0, 20, 1}, 10)).value();
    const Weldment weldment = recognise(bodies({plate, Brep::box({-40, -20, 0}, {40, 20, 50})}));
    int halves = 0;
    for (const Seam& seam : weldment.seams) halves += std::abs(seam.length_mm - 30) < 0.5;
    EXPECT_EQ(halves, 2);
    EXPECT_EQ(weldment.seams.size(), 5u);
}

TEST(Seam, EdgesThatOnlyTouchMakeNoSeam) {
    EXPECT_TRUE(
        recognise(bodies({Brep::box({0, 0, 0}, {50, 50, 50}), Brep::box({50, 0, 50}, {100, 50, 100})})).seams.empty());
}

}  // namespace
}  // namespace setwright::weldment
