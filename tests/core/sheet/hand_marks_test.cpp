#include "core/sheet/hand_marks.h"

#include <gtest/gtest.h>

#include <cstdlib>

#include "core/setup/edit.h"
#include "core/setup/job_file.h"
#include "core/sheet/pages.h"

namespace {

using namespace setwright;
using namespace setwright::sheet;

const setup::Setup& sample(const std::string& name) {
    static std::map<std::string, setup::Setup> opened;
    if (const auto known = opened.find(name); known != opened.end()) return known->second;
    ::setenv("SETWRIGHT_WORKER", SETWRIGHT_WORKER, 1);
    const auto job = setup::open_job(std::string(SETWRIGHT_SAMPLES_DIR) + "/" + name + ".setwright");
    EXPECT_TRUE(job.ok());
    return opened[name] = job ? job->setup : setup::Setup{};
}

setup::PieceId piece_id(const setup::Setup& job, const std::string& name) {
    for (const setup::PieceId id : job.stages.front().pieces)
        if (job.piece_name(id) == name) return id;
    ADD_FAILURE() << name;
    return {};
}

HandMarks marks_of(const setup::Setup& job, const std::string& name) {
    const setup::PieceId id = piece_id(job, name);
    const check::Report report = check::check(job);
    for (const HandMarks& hand : hand_marks(job, job.stages.front(), report.stages.front()))
        if (hand.piece == id) return hand;
    ADD_FAILURE() << name << " is not held by hand";
    return {};
}

const Mark* along(const std::vector<Mark>& marks, const Vec3& axis) {
    for (const Mark& mark : marks)
        if (mark.axis_T.dot(axis) > 0.999) return &mark;
    return nullptr;
}

const Vec3 east = Vec3::UnitX(), north = Vec3::UnitY(), up = Vec3::UnitZ();

// Lying -Y down with its corner at (200, 67, 15), D1 has X_T = X + 200, Y_T = 875 - Z, Z_T = Y + 75. The lug P7 (X
// 135-175, Y 9-15, Z 570-630) lies on P3 (X 175-225, Y -25-25, Z 50-800): 800 - 630 = 170 from its end, 25 - 15 = 10
// below its top; hole at X 152, Z 600: 175 - 152 = 23 out, 800 - 600 = 200 from the end.
TEST(HandMarks, LugOfTheGrinderStand) {
    const setup::Setup& job = sample("D1");
    const HandMarks hand = marks_of(job, "P7");
    ASSERT_EQ(hand.neighbours.size(), 1u);
    const auto& on = hand.neighbours.front();
    EXPECT_EQ(job.piece_name(on.piece), "P3");
    EXPECT_NEAR(on.normal_T.x(), -1, 1e-9);
    ASSERT_EQ(on.marks.size(), 2u);
    const Mark* y = along(on.marks, north);
    ASSERT_TRUE(y);
    EXPECT_EQ(y->kind, Mark::Kind::edge);
    EXPECT_EQ(y->side, -1);
    EXPECT_EQ(y->other_side, -1);
    EXPECT_NEAR(y->offset_mm, 800 - 630, 1e-6);
    EXPECT_FALSE(y->centred);
    const Mark* z = along(on.marks, up);
    ASSERT_TRUE(z);
    EXPECT_EQ(z->side, 1);
    EXPECT_EQ(z->other_side, 1);
    EXPECT_NEAR(z->offset_mm, 15 - 25, 1e-6);
    ASSERT_EQ(on.holes.size(), 1u);
    EXPECT_NEAR(on.holes.front().diameter_mm, 11, 1e-6);
    EXPECT_NEAR(along(on.holes.front().marks, east)->offset_mm, 152 - 175, 1e-6);
    EXPECT_NEAR(along(on.holes.front().marks, north)->offset_mm, 800 - 600, 1e-6);
    EXPECT_TRUE(hand.on_table.empty());
}

// 120 × 120 centred on 50 × 50: (120 - 50) / 2 = 35 all round, on the end that looks to -y of T. Its four holes are
// the plate's own business.
TEST(HandMarks, HeadPlateOfTheGrinderStandSticksOutAllRound) {
    const setup::Setup& job = sample("D1");
    const HandMarks hand = marks_of(job, "P6");
    ASSERT_EQ(hand.neighbours.size(), 1u);
    const auto& on = hand.neighbours.front();
    EXPECT_EQ(job.piece_name(on.piece), "P3");
    EXPECT_NEAR(on.normal_T.y(), -1, 1e-9);
    ASSERT_EQ(on.marks.size(), 2u);
    for (const Mark& mark : on.marks) {
        EXPECT_EQ(mark.kind, Mark::Kind::around);
        EXPECT_NEAR(mark.low_mm, 35, 1e-6);
        EXPECT_NEAR(mark.high_mm, 35, 1e-6);
    }
    EXPECT_TRUE(on.holes.empty());
}

// T1: Y 100-180, Z 16-24 on B1: Y 0-800, Z 0-40. T2 mirrored: Y 620-700. Ø13 at X -30, in the middle of each.
TEST(HandMarks, TabsOfTheGateFrame) {
    const setup::Setup& job = sample("D2");
    for (const auto& [name, side, offset] : {std::tuple("T1", -1, 100.0), std::tuple("T2", 1, 700.0 - 800.0)}) {
        const HandMarks hand = marks_of(job, name);
        ASSERT_EQ(hand.neighbours.size(), 1u) << name;
        const auto& on = hand.neighbours.front();
        EXPECT_EQ(job.piece_name(on.piece), "B1");
        EXPECT_NEAR(on.normal_T.x(), -1, 1e-9);
        const Mark* y = along(on.marks, north);
        ASSERT_TRUE(y);
        EXPECT_EQ(y->side, side);
        EXPECT_EQ(y->other_side, side);
        EXPECT_NEAR(y->offset_mm, offset, 1e-6);
        const Mark* z = along(on.marks, up);
        ASSERT_TRUE(z);
        EXPECT_EQ(z->side, 1);
        EXPECT_NEAR(z->offset_mm, 24 - 40, 1e-6);
        EXPECT_TRUE(z->centred);
        ASSERT_EQ(on.holes.size(), 1u);
        EXPECT_NEAR(on.holes.front().diameter_mm, 13, 1e-6);
        EXPECT_NEAR(along(on.holes.front().marks, east)->offset_mm, -30, 1e-6);
        EXPECT_NEAR(std::abs(along(on.holes.front().marks, north)->offset_mm), 140, 1e-6);
    }
}

// A1 lies on rests and against two stops; only along itself it is set by hand: tip X 0 level with B1's outside X 0.
TEST(HandMarks, BottomRailOfTheGateFrameIsLevelAtItsTip) {
    const setup::Setup& job = sample("D2");
    const HandMarks hand = marks_of(job, "A1");
    EXPECT_EQ(hand.stands_against.size(), 2u);
    EXPECT_EQ(hand.rests_on.size(), 3u);
    ASSERT_EQ(hand.neighbours.size(), 1u);
    const auto& on = hand.neighbours.front();
    EXPECT_EQ(job.piece_name(on.piece), "B1");
    EXPECT_FALSE(on.flat);
    ASSERT_EQ(on.marks.size(), 1u);
    EXPECT_NEAR(on.marks.front().axis_T.x(), 1, 1e-9);
    EXPECT_EQ(on.marks.front().side, -1);
    EXPECT_EQ(on.marks.front().other_side, -1);
    EXPECT_EQ(on.marks.front().offset_mm, 0);
    EXPECT_TRUE(hand.on_table.empty());
}

// B1 of D2 lies at X_T 265-325, Y_T 175-975 (lay corner (215, 175, 50), tabs reach 50 west). By hand, and with its
// neighbours out of the job, its south end is 25 north of row D (Y 150) and its west face 15 east of column 6 (X 250).
TEST(HandMarks, PieceThatTouchesNothingIsMeasuredFromTheHoles) {
    setup::Setup job = sample("D2");
    const setup::PieceId own = piece_id(job, "B1");
    setup::Stage& stage = job.stages.front();
    for (const setup::PieceId id : stage.pieces)
        if (id != own) job.weldments.front().piece_edits[id].left_out = true;
    stage.placements.clear();
    stage.order.clear();
    stage.held_by[own] = setup::HeldBy::by_hand;
    const HandMarks hand = marks_of(job, "B1");
    EXPECT_TRUE(hand.neighbours.empty());
    ASSERT_EQ(hand.on_table.size(), 3u);
    EXPECT_EQ(hand.on_table[0].index, 5);
    EXPECT_NEAR(hand.on_table[0].offset_mm, 265 - 250, 1e-6);
    EXPECT_EQ(hand.on_table[1].index, 3);
    EXPECT_NEAR(hand.on_table[1].offset_mm, 175 - 150, 1e-6);
    EXPECT_EQ(hand.on_table[2].kind, Mark::Kind::over_table);
    EXPECT_NEAR(hand.on_table[2].offset_mm, 50, 1e-6);
}

// The same readings after a turn by 30 degrees: nothing but the words changes.
TEST(HandMarks, TurnedWeldmentKeepsItsOffsets) {
    setup::Setup job = sample("D1");
    job.stages.front().placements.clear();
    const auto turned = setup::lay(job, job.stages.front().id, "-Y", 30, Vec3(600, 300, 15));
    ASSERT_TRUE(turned.ok());
    const HandMarks hand = marks_of(*turned, "P7");
    ASSERT_EQ(hand.neighbours.size(), 1u);
    std::vector<double> offsets;
    for (const Mark& mark : hand.neighbours.front().marks) offsets.push_back(std::abs(mark.offset_mm));
    std::sort(offsets.begin(), offsets.end());
    ASSERT_EQ(offsets.size(), 2u);
    EXPECT_NEAR(offsets[0], 10, 1e-6);
    EXPECT_NEAR(offsets[1], 170, 1e-6);
}

std::string words_of(const setup::Setup& job, const std::string& kind) {
    const auto texts = base::TextCatalogue::load(std::string(SETWRIGHT_RESOURCES_DIR) + "/translations/en");
    const auto pages = set_up_pages(job, check::check(job), texts, {});
    EXPECT_TRUE(pages.ok());
    std::string words;
    if (!pages) return words;
    for (const Page& page : *pages)
        if (page.title.find(kind) != std::string::npos)
            for (const Item& item : page.items)
                if (item.kind == Item::Kind::label) {
                    const std::size_t start = item.label.text.find_first_not_of(' ');
                    if (start != std::string::npos) words += item.label.text.substr(start) + " ";
                }
    return words;
}

// The offsets of the tests above, as the fitter reads them.
TEST(HandMarks, PagesSayThemInPlainWords) {
    const std::string d1 = words_of(sample("D1"), "set by hand");
    for (const char* sentence : {"on the south end of P3", "sticks out beyond P3 35 east and 35 west",
                                 "sticks out beyond P3 35 up and 35 down", "on the west face of P3",
                                 "its south edge 170 north of P3's south end", "its top edge 10 below P3's top face",
                                 "centre of its Ø11 hole 23 west of P3's west face"})
        EXPECT_NE(d1.find(sentence), std::string::npos) << sentence << "\n" << d1;
    const std::string d2 = words_of(sample("D2"), "set by hand");
    for (const char* sentence : {"its west tip level with B1's west face", "lies on blocks 11, 12, 13",
                                 "its south edge 100 north of B1's south tip",
                                 "its north edge 100 south of B1's north tip", "its top edge 16 below B1's top face"})
        EXPECT_NE(d2.find(sentence), std::string::npos) << sentence << "\n" << d2;
}

}  // namespace
