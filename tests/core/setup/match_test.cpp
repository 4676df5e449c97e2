#include "core/setup/match.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <numeric>
#include <random>

#include "core/base/limits.h"
#include "tests/core/setup/example.h"

namespace setwright::setup {
namespace {

using space::Pose;
using space::Vec3;

TEST(Match, AssignmentIsTheCheapestOfAllOrders) {
    // Two routes to one number: every order of 6 of 7 columns, tried.
    std::mt19937 random(3);
    std::uniform_real_distribution<double> price(0, 1);
    for (int round = 0; round < 40; ++round) {
        std::vector<std::vector<double>> cost(6, std::vector<double>(7));
        for (auto& row : cost)
            for (double& c : row) c = price(random);
        std::vector<std::size_t> order(7);
        std::iota(order.begin(), order.end(), 0);
        double least = 1e9;
        do {
            double sum = 0;
            for (std::size_t row = 0; row < 6; ++row) sum += cost[row][order[row]];
            least = std::min(least, sum);
        } while (std::next_permutation(order.begin(), order.end()));
        const auto found = assign(cost, 7);
        double sum = 0;
        for (std::size_t row = 0; row < 6; ++row) sum += cost[row][found[row]];
        EXPECT_NEAR(sum, least, 1e-12);
    }
}

/// Bars of many sizes, two of them equal in shape.
weldment::Weldment rack() {
    weldment::Weldment model;
    for (std::uint32_t i = 1; i <= 8; ++i)
        model.pieces.push_back(bar(i, "bar", {100.0 * i, 0, 0}, {100.0 * i + 20 + (i < 7 ? i : 7), 50, 300}));
    model.seams = {seam(1, 1, 2, {0, 0, 0}, {10, 0, 0}), seam(2, 1, 2, {0, 50, 0}, {10, 50, 0}),
                   seam(3, 8, 7, {0, 0, 9}, {10, 0, 9})};
    return model;
}

TEST(Match, PiecesInAnotherOrderKeepTheirIds) {
    const weldment::Weldment first = rack();
    WeldmentUse use;
    freeze(use, first);
    std::mt19937 random(11);
    for (int round = 0; round < 20; ++round) {
        weldment::Weldment again = rack();
        std::shuffle(again.pieces.begin(), again.pieces.end(), random);
        std::map<PieceId, PieceId> renamed;
        for (std::size_t i = 0; i < again.pieces.size(); ++i) {
            renamed[again.pieces[i].id] = PieceId{static_cast<std::uint32_t>(i + 1)};
            again.pieces[i].id = PieceId{static_cast<std::uint32_t>(i + 1)};
        }
        for (auto& s : again.seams)
            for (PieceId& p : s.pieces) p = renamed[p];
        std::shuffle(again.seams.begin(), again.seams.end(), random);
        std::uint32_t last_id = 50;
        const Matched matched = match_to_frozen(use, again, last_id);
        EXPECT_EQ(matched.pieces_new + matched.pieces_gone + matched.seams_new + matched.seams_gone, 0u);
        EXPECT_EQ(last_id, 50u);
        ASSERT_EQ(again.pieces.size(), first.pieces.size());
        for (std::size_t i = 0; i < first.pieces.size(); ++i) {
            EXPECT_EQ(again.pieces[i].id, first.pieces[i].id);
            EXPECT_EQ(again.pieces[i].fingerprint, first.pieces[i].fingerprint);
        }
        for (std::size_t i = 0; i < first.seams.size(); ++i) {
            EXPECT_EQ(again.seams[i].id, first.seams[i].id);
            EXPECT_EQ(again.seams[i].pieces, first.seams[i].pieces);
            EXPECT_EQ(again.seams[i].path_M, first.seams[i].path_M);
        }
    }
}

TEST(Match, WhatIsNewGetsANewIdAndWhatIsGoneIsCounted) {
    WeldmentUse use;
    freeze(use, rack());
    weldment::Weldment again = rack();
    again.pieces.erase(again.pieces.begin());
    again.seams = {seam(1, 8, 7, {0, 0, 9}, {10, 0, 9}), seam(2, 3, 4, {0, 0, 0}, {5, 0, 0})};
    weldment::Piece ball = bar(1, "ball", {5000, 5000, 0}, {5001, 5001, 1});
    ball.fingerprint.face_kinds = {0, 0, 0, 1, 0, 0, 0};
    again.pieces.push_back(ball);
    std::uint32_t last_id = 50;
    const Matched matched = match_to_frozen(use, again, last_id);
    EXPECT_EQ(matched.pieces_gone, 1u);
    EXPECT_EQ(matched.pieces_new, 1u);
    EXPECT_EQ(matched.seams_gone, 2u);
    EXPECT_EQ(matched.seams_new, 1u);
    EXPECT_EQ(last_id, 52u);
    EXPECT_EQ(again.pieces.back().name, "ball");
    EXPECT_EQ(again.pieces.back().id, PieceId{51});
    EXPECT_TRUE(use.frozen.contains(PieceId{51}));
}

TEST(Match, AMirroredPieceIsNotTakenForItsOtherHand) {
    WeldmentUse use;
    weldment::Weldment model;
    model.pieces = {bar(1, "l", {0, 0, 0}, {10, 20, 30}), bar(2, "l", {100, 0, 0}, {110, 20, 30})};
    model.pieces[0].fingerprint.handedness = -1;
    model.pieces[1].fingerprint.handedness = 1;
    freeze(use, model);
    // Each now stands where the other stood.
    weldment::Weldment again = model;
    std::swap(again.pieces[0].fingerprint.handedness, again.pieces[1].fingerprint.handedness);
    std::uint32_t last_id = 2;
    match_to_frozen(use, again, last_id);
    EXPECT_EQ(again.find(PieceId{1})->fingerprint.handedness, -1);
    EXPECT_EQ(again.find(PieceId{2})->fingerprint.handedness, 1);
}

TEST(Match, AFrameReadOtherwiseIsPutBackIntoTheFrozenOne) {
    WeldmentUse use;
    weldment::Weldment model;
    model.pieces = {bar(1, "post", {7, 8, 9}, {57, 38, 809})};
    model.pieces[0].ends[0] = {weldment::EndKind::mitre, 45, 90, 0, 0};
    model.pieces[0].ends[1] = {weldment::EndKind::square, 0, 0, 0, 1};
    model.pieces[0].X_PD = Pose::move(1, 2, 3);
    freeze(use, model);
    // The other reading looks from the far end: half a turn about x, origin at the top.
    const Pose X_PQ = Pose::move(0, 30, 800) * Pose::turn_x(base::Angle::deg(180));
    weldment::Weldment again = model;
    weldment::Piece& piece = again.pieces[0];
    piece.X_MP = model.pieces[0].X_MP * X_PQ;
    piece.X_PD = X_PQ.inverse() * piece.X_PD;
    piece.solid = std::make_shared<const space::Solid>(space::moved(*piece.solid, X_PQ.inverse()));
    std::swap(piece.ends[0], piece.ends[1]);
    piece.ends[1].plane_deg = 270;
    std::uint32_t last_id = 1;
    match_to_frozen(use, again, last_id);
    const weldment::Piece& back = again.pieces[0];
    const weldment::Piece& was = model.pieces[0];
    EXPECT_EQ(back.X_MP, was.X_MP);
    EXPECT_LT(space::pose_difference_mm(back.X_PD, was.X_PD, 1000), 1e-9);
    ASSERT_EQ(back.solid->mesh.points.size(), was.solid->mesh.points.size());
    for (std::size_t i = 0; i < was.solid->mesh.points.size(); ++i)
        EXPECT_LT((back.solid->mesh.points[i] - was.solid->mesh.points[i]).norm(), 1e-9);
    EXPECT_EQ(back.ends[0].kind, weldment::EndKind::mitre);
    EXPECT_NEAR(back.ends[0].plane_deg, 90, 1e-9);
    EXPECT_EQ(back.ends[1].kind, weldment::EndKind::square);
    EXPECT_TRUE(back.doubts.empty());
}

TEST(Match, ALengthReadAlongAnotherAxisIsADoubt) {
    WeldmentUse use;
    weldment::Weldment model;
    model.pieces = {bar(1, "block", {0, 0, 0}, {50, 50, 50})};
    freeze(use, model);
    weldment::Weldment again = model;
    again.pieces[0].X_MP = model.pieces[0].X_MP * Pose::turn_y(base::Angle::deg(90));
    std::uint32_t last_id = 1;
    match_to_frozen(use, again, last_id);
    EXPECT_EQ(again.pieces[0].X_MP, model.pieces[0].X_MP);
    ASSERT_EQ(again.pieces[0].doubts.size(), 1u);
    EXPECT_EQ(again.pieces[0].doubts[0].id, "job.axis_changed");
}

}  // namespace
}  // namespace setwright::setup
