#include <gtest/gtest.h>

#include "tests/core/check/example.h"

namespace setwright::check {
namespace {

using testing::ElementsAre;

std::vector<FreeMotion> still_moves(const Job& job, PieceId piece = PieceId{1}) {
    const auto placed = posed(job);
    return check::still_moves(job, job.stages[0], placed, contacts(job, job.stages[0], placed), piece);
}

std::vector<std::string> words(const std::vector<FreeMotion>& motions) {
    std::vector<std::string> out;
    for (const FreeMotion& motion : motions) out.push_back(english().render(motion.text));
    return out;
}

/// P2, 50 × 50 × 200 along y, butts P1's south face in the middle; on two rests, a stop against its west face.
Job bar_with_branch() {
    Job job = located_bar();
    std::vector<weldment::Piece> pieces = job.weldments[0].model->pieces;
    pieces.push_back(bar(2, "P2", {425, 25, 50}, {475, 225, 100}));
    auto model = std::make_shared<weldment::Weldment>();
    model->pieces = std::move(pieces);
    job.weldments[0].model = std::move(model);
    job.stages[0].pieces.push_back(PieceId{2});
    put(job, rest(), {9, 1});
    put(job, rest(), {9, 3});
    put(job, stop(), {8, 2});
    return job;
}

void keep(Job& job, const std::set<int>& numbers) {
    std::erase_if(job.stages[0].placements, [&](const setup::Placement& p) { return !numbers.contains(p.no); });
}

const Vec3 middle(450, 250, 75);

TEST(StillMoves, OnRestsAloneAPieceSlidesTwoWaysAndTurnsFlat) {
    Job job = located_bar();
    keep(job, {1, 2, 3});
    const auto motions = still_moves(job);
    EXPECT_THAT(words(motions),
                ElementsAre("slide left–right", "slide towards you and away", "turn flat on the table"));
    EXPECT_EQ(motions[0].axis_T, Vec3::UnitX());
    EXPECT_EQ(motions[1].axis_T, Vec3::UnitY());
    EXPECT_EQ(motions[2].axis_T, Vec3::UnitZ());
    EXPECT_FALSE(motions[0].turns || motions[1].turns);
    EXPECT_TRUE(motions[2].turns);
    for (const auto& motion : motions) EXPECT_NEAR((motion.at_T - middle).norm(), 0, 1e-6);
}

TEST(StillMoves, OnRestsAndAgainstTwoStopsItSlidesAlongThem) {
    Job job = located_bar();
    keep(job, {1, 2, 3, 4, 5});
    const auto motions = still_moves(job);
    EXPECT_THAT(words(motions), ElementsAre("slide left–right"));
    EXPECT_NEAR((motions[0].at_T - middle).norm(), 0, 1e-6);
}

TEST(StillMoves, APieceThatIsHeldDoesNot) {
    EXPECT_TRUE(still_moves(located_bar()).empty());
    EXPECT_TRUE(still_moves(bar_with_branch(), PieceId{2}).empty());
}

TEST(StillMoves, WithNoContactAtAllThereAreSixMotions) {
    Job job = located_bar();
    keep(job, {});
    const auto motions = still_moves(job);
    EXPECT_THAT(words(motions), ElementsAre("slide left–right", "slide towards you and away", "move up and down",
                                            "turn flat on the table", "rock about a line running left–right",
                                            "rock about a line running towards you and away"));
    for (const auto& motion : motions) EXPECT_NEAR((motion.at_T - middle).norm(), 0, 1e-6);
}

TEST(StillMoves, ATurnAboutARoundStopIsDrawnAtTheStop) {
    // The stop at hole (6, 6) touches the north face at x 300: the piece slides along, and turns about a line at x 300.
    Job job = job_with({bar(1, "P1", {150, 225, 50}, {750, 285, 100})});
    put(job, rest(), {4, 5});
    put(job, rest(), {8, 5});
    put(job, rest(), {12, 5});
    put(job, round_stop(), {6, 6});
    const auto motions = still_moves(job);
    EXPECT_THAT(words(motions), ElementsAre("slide left–right", "turn flat on the table"));
    EXPECT_NEAR((motions[1].at_T - Vec3(300, 255, 75)).norm(), 0, 1e-6);
}

TEST(StillMoves, APieceSetByHandIsHeldWhereItIsCarried) {
    Job job = located_bar();
    keep(job, {1, 2});
    job.stages[0].held_by[PieceId{1}] = HeldBy::by_hand;
    EXPECT_TRUE(still_moves(job).empty());
    keep(job, {});
    EXPECT_EQ(still_moves(job).size(), 6u);
}

TEST(StillMoves, APieceThatIsNotInTheStageHasNoAnswer) {
    EXPECT_TRUE(still_moves(located_bar(), PieceId{77}).empty());
}

TEST(StillMoves, SaysWhatTheFindingSaysAndMovesOverEveryContactWithoutLeavingIt) {
    const Job whole = bar_with_branch();
    int motions_seen = 0;
    for (unsigned chosen = 0; chosen < 512; ++chosen) {
        Job job = whole;
        std::set<int> numbers;
        for (int i = 0; i < 9; ++i)
            if (chosen >> i & 1) numbers.insert(i + 1);
        keep(job, numbers);
        const auto placed = posed(job);
        const auto met = contacts(job, job.stages[0], placed);
        const auto findings = check_locating(job, job.stages[0], placed, met);
        bool first_is_held = false;
        for (const PieceId piece : {PieceId{1}, PieceId{2}}) {
            SCOPED_TRACE(std::to_string(chosen) + " piece " + std::to_string(piece.value));
            const auto motions = check::still_moves(job, job.stages[0], placed, met, piece);
            const auto finding = std::find_if(findings.begin(), findings.end(), [&](const Finding& f) {
                return (f.rule == "locating.free" || f.rule == "locating.piece") &&
                       f.subjects == std::vector<Subject>{piece};
            });
            ASSERT_NE(finding, findings.end());
            std::vector<base::Text> texts;
            for (const FreeMotion& motion : motions) texts.push_back(motion.text);
            if (finding->text.id == "locating.free") {
                EXPECT_EQ(texts, std::get<std::vector<base::Text>>(finding->text.arguments.at("motions")));
            } else {
                EXPECT_EQ(motions.size(), finding->text.id == "locating.nothing_holds" ? 6u : 0u);
            }
            for (const Contact& contact : met) {
                if (contact.piece != piece || !contact.locates || (contact.other && !first_is_held)) continue;
                for (const FreeMotion& motion : motions) {
                    if (motion.text.id == "motion.twist") continue;
                    ++motions_seen;
                    for (const Vec3& p : row_points(contact)) {
                        const Vec3 moves = motion.turns ? motion.axis_T.cross(p - motion.at_T) : motion.axis_T;
                        EXPECT_NEAR(contact.normal_T.dot(moves), 0, 1e-6) << english().render(motion.text);
                    }
                }
            }
            first_is_held = motions.empty();
        }
    }
    EXPECT_GT(motions_seen, 1000);
}

}  // namespace
}  // namespace setwright::check
