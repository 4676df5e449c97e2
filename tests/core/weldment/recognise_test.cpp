#include "core/weldment/recognise.h"

#include <gtest/gtest.h>

#include "tests/core/weldment/sample_weldment.h"
#include "tests/core/weldment/stock_bodies.h"

namespace setwright::weldment {
namespace {

using space::Brep;
using space::Pose;
using space::Vec3;

void expect_as_drawn(const Sample& sample) {
    ASSERT_EQ(sample.weldment.pieces.size(), sample.expected["pieces"].size());
    for (const nlohmann::json& e : sample.expected["pieces"]) {
        const std::string id = e["id"];
        SCOPED_TRACE(id);
        const Piece* piece = sample.piece(id);
        ASSERT_NE(piece, nullptr);
        const nlohmann::json& section = e["section"];
        const std::string kind = section["kind"] == "rectangular_tube" ? "rect_tube" : section["kind"];
        EXPECT_EQ(key(piece->section.kind), kind);
        EXPECT_NEAR(piece->section.width_mm, section["width_mm"].get<double>(), 1e-6);
        EXPECT_NEAR(piece->solid->volume_mm3, e["volume_mm3"].get<double>(), 1e-3);
        EXPECT_NEAR(piece->mass_kg, e["volume_mm3"].get<double>() * 7850e-9, 1e-6);
        EXPECT_TRUE(piece->doubts.empty());
        if (kind == "plate") {
            EXPECT_NEAR(piece->section.depth_mm, section["thickness_mm"].get<double>(), 1e-6);
            EXPECT_NEAR(piece->length_mm, section["length_mm"].get<double>(), 1e-6);
            continue;
        }
        EXPECT_NEAR(piece->section.depth_mm, section["depth_mm"].get<double>(), 1e-6);
        EXPECT_NEAR(piece->section.wall_mm, section["wall_mm"].get<double>(), 1e-6);
        // EN 10219: outside corner of 2 T for T up to 6.
        EXPECT_NEAR(piece->section.corner_radius_mm, 2 * section["wall_mm"].get<double>(), 1e-6);
        EXPECT_NEAR(piece->centre_mm, e["centre_length_mm"].get<double>(), 1e-6);
        EXPECT_NEAR(piece->long_point_mm, e["long_length_mm"].get<double>(), 1e-6);
        EXPECT_NEAR(piece->short_point_mm, e["short_length_mm"].get<double>(), 1e-6);
        bool mitred = false;
        for (std::size_t i = 0; i < 2; ++i) {
            const EndCut& end = piece->ends[i];
            EXPECT_EQ(key(end.kind), e["ends"][i]["kind"].get<std::string>());
            EXPECT_NEAR(end.angle_deg, e["ends"][i]["angle_deg"].get<double>(), 1e-6);
            EXPECT_GE(end.plane_deg, 0);
            EXPECT_LT(end.plane_deg, 360);
            mitred |= end.kind == EndKind::mitre;
        }
        // All mitred pieces of both samples have their long points on one side.
        EXPECT_EQ(piece->shape, mitred ? PieceShape::trapezoid : PieceShape::straight);
    }
}

TEST(Recognise, GrinderStandIsReadAsDrawn) {
    const Sample stand = sample("D1");
    expect_as_drawn(stand);
    EXPECT_TRUE(stand.weldment.doubts.empty());
    // Seven different pieces.
    EXPECT_EQ(stand.weldment.groups.size(), 7u);
}

TEST(Recognise, GateFrameIsReadAsDrawn) {
    const Sample gate = sample("D2");
    expect_as_drawn(gate);
    // A1 = A2, B1 = B2, T1 = T2, M1.
    ASSERT_EQ(gate.weldment.groups.size(), 4u);
    EXPECT_EQ(gate.piece("A1")->group, gate.piece("A2")->group);
    EXPECT_EQ(gate.piece("B1")->group, gate.piece("B2")->group);
    EXPECT_EQ(gate.piece("T1")->group, gate.piece("T2")->group);
    EXPECT_NE(gate.piece("A1")->group, gate.piece("B1")->group);
    for (const Group& group : gate.weldment.groups) EXPECT_EQ(group.mirror_of, 0);
}

TEST(Recognise, OneLumpGivesTheSamePieces) {
    expect_as_drawn(sample("D1_lump"));
    expect_as_drawn(sample("D2_lump"));
}

TEST(Recognise, MassesAreThoseOfTheTubeTables) {
    // EN 10219 section tables: 50 x 50 x 3 4.245 kg/m, 60 x 40 x 3 4.245 kg/m (computed: 5.4082 cm2 x 0.785), 40 x 40 x
    // 3 3.303.
    const Sample stand = sample("D1");
    EXPECT_NEAR(stand.piece("P1")->mass_kg / 0.900, 4.245, 0.0006);
    EXPECT_NEAR(stand.piece("P4")->mass_kg / 0.636396103, 3.303, 0.0006);
    const Sample gate = sample("D2");
    EXPECT_NEAR(gate.piece("A1")->mass_kg / 1.140, 4.245, 0.0006);
}

TEST(Recognise, BraceFrameFollowsTheWeldmentsAxes) {
    // P4 runs (675, 0, 50) to (225, 0, 500): X and Z tie, so z is (1, 0, -1); its long points are outside, at +x.
    const Sample stand = sample("D1");
    const Piece& brace = *stand.piece("P4");
    EXPECT_NEAR((brace.X_MP.turn(Vec3::UnitZ()) - Vec3(1, 0, -1).normalized()).norm(), 0, 1e-9);
    EXPECT_NEAR((brace.X_MP.turn(Vec3::UnitX()) - Vec3(1, 0, 1).normalized()).norm(), 0, 1e-9);
    // End 0 is the upper one: long point 20 beyond the axis end (225, 0, 500).
    EXPECT_NEAR((brace.X_MP.position() - (Vec3(225, 0, 500) - 20 * Vec3(1, 0, -1).normalized())).norm(), 0, 1e-6);
    EXPECT_NEAR(brace.ends[0].plane_deg, 0, 1e-6);
    EXPECT_NEAR(brace.ends[1].plane_deg, 0, 1e-6);
}

TEST(Recognise, NothingIsDropped) {
    const Weldment weldment =
        recognise(bodies({tube(50, 50, 3, 0, 400), Brep::cylinder({0, 0, 500}, {0, 0, 900}, 10)}));
    ASSERT_EQ(weldment.pieces.size(), 2u);
    EXPECT_EQ(weldment.pieces[1].section.kind, SectionKind::other);
    EXPECT_TRUE(doubts(weldment.pieces[1].doubts, "piece.reason_round"));
    EXPECT_TRUE(doubts(weldment.pieces[0].doubts, "piece.no_seam"));
    EXPECT_NEAR(weldment.pieces[1].length_mm, 400, 1e-6);
    EXPECT_EQ(weldment.find(PieceId{2}), &weldment.pieces[1]);
    EXPECT_EQ(weldment.find(PieceId{3}), nullptr);
}

TEST(Recognise, TheOtherHandIsItsOwnGroup) {
    const Brep low = cut_off(tube(60, 40, 3, -100, 500), {0, 0, 0}, {-1, 0, -1});
    const Brep right = cut_off(low, {0, 0, 400}, {0, -1, 1});
    const Brep left = right.mirrored(Vec3::UnitY()).value();
    const Weldment weldment = recognise(bodies({right, left.moved(skew_pose()), right.moved(skew_pose())}));
    ASSERT_EQ(weldment.groups.size(), 2u);
    EXPECT_EQ(weldment.pieces[0].group, weldment.pieces[2].group);
    EXPECT_EQ(weldment.groups[0].count, 2);
    EXPECT_EQ(weldment.groups[0].mirror_of, 2);
    EXPECT_EQ(weldment.groups[1].mirror_of, 1);
}

TEST(Recognise, PiecesInOneAnotherAreDoubted) {
    // The second tube stands 10 deep in the first.
    const Brep post = tube(40, 40, 3, -10, 300).moved(Pose::move(0, 0, 25));
    const Brep rail = tube(50, 50, 3, -200, 200).moved(Pose::turn_y(base::Angle::deg(90)));
    const Weldment weldment = recognise(bodies({rail, post}));
    EXPECT_TRUE(doubts(weldment.pieces[0].doubts, "piece.overlaps"));
    EXPECT_TRUE(doubts(weldment.pieces[1].doubts, "piece.overlaps"));
    const Weldment touching = recognise(bodies({rail, tube(40, 40, 3, 0, 300).moved(Pose::move(0, 0, 25))}));
    EXPECT_TRUE(touching.pieces[0].doubts.empty());
    EXPECT_TRUE(touching.pieces[1].doubts.empty());
}

TEST(Recognise, WhatIsWrongWithTheFileIsSaid) {
    space::Bodies read = bodies({tube(50, 50, 3, 0, 25000)});
    read.file_unit = "";
    read.lost = {"bracket", "", ""};
    read.loose_faces = 3;
    const Weldment weldment = recognise(read);
    for (const char* id : {"weldment.no_unit", "weldment.lost", "weldment.lost_unnamed", "weldment.loose_faces",
                           "weldment.very_large"}) {
        EXPECT_TRUE(doubts(weldment.doubts, id)) << id;
    }
    EXPECT_TRUE(doubts(recognise(bodies({bar(2, 1, 19)})).doubts, "weldment.very_small"));
}

TEST(Recognise, EveryDoubtHasItsSentence) {
    const base::TextCatalogue texts =
        base::TextCatalogue::load(std::string(SETWRIGHT_RESOURCES_DIR) + "/translations/en");
    for (const char* id :
         {"piece.end_other", "piece.faces_left", "piece.no_seam", "piece.not_valid", "piece.overlaps",
          "piece.reason_curved", "piece.reason_profile", "piece.reason_round", "piece.reason_walls_differ",
          "seam.gap_wide", "seam.sunk", "weldment.loose_faces", "weldment.lost", "weldment.lost_unnamed",
          "weldment.no_unit", "weldment.very_large", "weldment.very_small"}) {
        EXPECT_TRUE(texts.has(id)) << id;
    }
}

TEST(Recognise, StopsWhenCancelled) {
    const base::Progress job;
    job.cancel();
    EXPECT_TRUE(recognise(bodies({tube(50, 50, 3, 0, 400)}), job).pieces.empty());
}

}  // namespace
}  // namespace setwright::weldment
