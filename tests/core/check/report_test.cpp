#include "core/check/report.h"

#include <gtest/gtest.h>

#include "tests/core/check/example.h"

namespace setwright::check {
namespace {

TEST(Report, RulesThatAreNotBuiltAreThereAsNotRun) {
    const Report report = check(located_bar());
    EXPECT_FALSE(report.failed());
    int not_run = 0;
    for (const Finding& finding : report.findings) not_run += finding.verdict == Verdict::not_run;
    EXPECT_EQ(not_run, 8);
    EXPECT_EQ(of_rule(report, "holding.forces", Verdict::not_run).size(), 1u);
}

TEST(Report, WorstComesFirst) {
    Job job = located_bar();
    job.stages[0].placements.pop_back();
    job.shelf.count["rest"] = 1;
    const Report report = check(job);
    ASSERT_TRUE(report.failed());
    bool passed = false;
    EXPECT_EQ(report.findings.front().verdict, Verdict::fail);
    for (const Finding& finding : report.findings) {
        passed = passed || finding.verdict == Verdict::pass;
        if (passed) {
            EXPECT_EQ(finding.verdict, Verdict::pass);
        }
    }
}

TEST(Report, EverySentenceIsInTheCatalogue) {
    Job bad = located_bar();
    bad.stages[0].placements[0].seat.hole = {40, 20};
    bad.stages[0].placements[1].seat.hole = {200, 5};
    for (const Job& job : {located_bar(), bad}) {
        for (const Finding& finding : check(job).findings) {
            EXPECT_TRUE(english().has(finding.text.id)) << finding.text.id;
            EXPECT_EQ(said(finding).find('{'), std::string::npos) << said(finding);
        }
    }
}

TEST(Report, AnAcceptedFindingCountsUntilItsMeasureChanges) {
    Job job = located_bar();
    job.stages[0].placements.pop_back();
    ASSERT_TRUE(check(job).failed());
    job.accepted.push_back({"locating.free", {"stage 1000", "piece 1"}, 5, "one end stays open"});
    EXPECT_FALSE(check(job).failed());
    EXPECT_TRUE(of_rule(check(job), "locating.free", Verdict::fail)[0]->accepted);
    // One rest and both stops less: other freedom than the one accepted.
    job.stages[0].placements.resize(2);
    EXPECT_TRUE(check(job).failed());
}

TEST(Seats, AHoleTakenTwiceIsSaidForBoth) {
    Job job = located_bar();
    put(job, rest(), {8, 5});
    const auto found = of_rule(check(job), "seat.hole_taken", Verdict::fail);
    ASSERT_EQ(found.size(), 2u);
    EXPECT_EQ(found[0]->subjects[0], Subject(PlacementId{102}));
    EXPECT_EQ(found[1]->subjects[0], Subject(PlacementId{107}));
}

TEST(Seats, ASeatThatIsNoneIsSaidAndTheRestIsStillChecked) {
    Job job = located_bar();
    job.stages[0].placements.back().seat.hole = {200, 5};
    const Report report = check(job);
    EXPECT_EQ(of_rule(report, "seat.invalid", Verdict::fail).size(), 1u);
    EXPECT_EQ(of_rule(report, "locating.free", Verdict::fail).size(), 1u);
}

TEST(Seats, AStopOnTheFloorNeedsATape) {
    Job job = located_bar();
    job.stages[0].placements.back().seat.host.kind = Host::Kind::floor;
    EXPECT_EQ(of_rule(check(job), "seat.tape", Verdict::fail).size(), 1u);
}

TEST(Shelf, CountsComponentsPlatesPackersAndBolts) {
    Job job = located_bar();
    shop::Component plated = stop();
    plated.id = "plated";
    plated.handed = true;
    plated.plates.emplace_back();
    plated.plates[0].id = "100";
    plated.plates[0].stock_id = "plate 100";
    put(job, plated, {30, 10});
    setup::Seat& seat = job.stages[0].placements.back().seat;
    seat.hand = shop::Hand::left;
    seat.plate = "100";
    seat.packers = {{setup::Packer::Where::face, "packer 2", 2}, {setup::Packer::Where::face, "packer 2", 2}};
    std::map<std::string, int> need;
    for (const PickLine& line : pick_list(job)) need[line.stock_id] = line.need;
    // Two stops, the end stop and the plated one take two bolts each.
    EXPECT_EQ(need, (std::map<std::string, int>{{"rest", 3},
                                                {"stop", 2},
                                                {"end stop", 1},
                                                {"plated:left", 1},
                                                {"plate 100", 1},
                                                {"packer 2", 2},
                                                {"bolt", 8}}));
}

TEST(Shelf, StagesUseTheSamePartsOneAfterTheOther) {
    Job job = located_bar();
    job.stages.push_back(job.stages[0]);
    job.stages[1].placements.erase(job.stages[1].placements.begin());
    for (const PickLine& line : pick_list(job)) {
        if (line.stock_id == "rest") {
            EXPECT_EQ(line.need, 3);
        }
    }
}

TEST(Shelf, WhatIsShortFailsWithBothNumbersAndWhatIsToCutWarns) {
    Job job = located_bar();
    job.shelf.count["rest"] = 2;
    auto cut = std::make_shared<shop::Component>(*job.components.at("end stop"));
    cut->to_cut = true;
    job.components["end stop"] = cut;
    job.shelf.count.erase("end stop");
    const auto findings = check_shelf(job);
    ASSERT_EQ(findings.size(), 2u);
    EXPECT_EQ(findings[0].rule, "shelf.to_cut");
    EXPECT_EQ(findings[0].verdict, Verdict::warn);
    EXPECT_EQ(findings[1].rule, "shelf.short");
    EXPECT_EQ(findings[1].measured, 3);
    EXPECT_EQ(findings[1].limit, 2);
    EXPECT_EQ(said(findings[1]), "rest: 3 needed, 2 on the shelf.");
}

}  // namespace
}  // namespace setwright::check
