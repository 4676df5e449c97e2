#include "core/sheet/pages.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <regex>
#include <set>

#include "core/setup/edit.h"
#include "core/setup/match.h"
#include "core/setup/place.h"
#include "core/sheet/scene.h"
#include "core/sheet/svg.h"
#include "core/shop/catalogue.h"

namespace {

using namespace setwright;
using namespace setwright::sheet;
using space::Brep;
using space::Vec3;

const std::string resources = SETWRIGHT_RESOURCES_DIR;

const base::TextCatalogue& texts() {
    static const auto catalogue = base::TextCatalogue::load(resources + "/translations/en");
    return catalogue;
}

/// An angle of two tubes on the 50 table: stops, rests, a stack with packers and an angle plate that carries a pad.
const setup::Setup& example() {
    static const setup::Setup made = [] {
        space::Bodies bodies;
        const auto tube = [&](const std::string& name, const Vec3& low, const Vec3& high, int axis) {
            Vec3 inner_low = low + Vec3::Constant(3), inner_high = high - Vec3::Constant(3);
            inner_low[axis] = low[axis] - 1;
            inner_high[axis] = high[axis] + 1;
            const Brep brep = Brep::cut(Brep::box(low, high), Brep::box(inner_low, inner_high)).value();
            bodies.solids.push_back(std::make_shared<const space::Solid>(space::describe(brep).value()));
            bodies.breps.push_back(brep);
            space::Body body;
            body.path = {name};
            body.name = name;
            body.solid = static_cast<std::uint32_t>(bodies.solids.size() - 1);
            bodies.bodies.push_back(body);
        };
        tube("P1", Vec3(0, 0, 0), Vec3(900, 50, 50), 0);
        tube("P2", Vec3(150, 50, 0), Vec3(200, 650, 50), 1);
        setup::WeldmentUse use;
        use.file_name = "frame.step";
        use.sha256 = std::string(64, 'a');
        use.model = std::make_shared<const weldment::Weldment>(weldment::recognise(bodies));
        setup::freeze(use, *use.model);
        const auto tables = shop::load_tables(resources + "/tables").value();
        const auto table =
            std::find_if(tables.begin(), tables.end(), [](const shop::Table& t) { return t.id == "grid50"; });
        const auto catalogue = shop::load_catalogue(resources + "/catalogue").value();
        setup::Setup setup = setup::new_job(use, *table, shop::Shelf{});
        for (const auto& component : catalogue.components) setup.shelf.count[component->id] = 2;
        const setup::StageId stage = setup.stages.front().id;
        setup = setup::lay(setup, stage, "-Z", 0, Vec3(225, 225, 50)).value();
        setup.title.job = "Frame";
        setup.title.revision = "B";
        setup.title.date = "2026-01-01";
        const std::pair<const char*, const char*> placed[] = {{"D8 N 4 · plate 100", "m50-index-stop"},
                                                              {"D20 N 4 · plate 100", "m50-index-stop"},
                                                              {"F2 E 9 · plate 100", "m50-index-stop"},
                                                              {"F7", "m50-rest-50"},
                                                              {"F21", "m50-rest-50"},
                                                              {"P9", "m50-rest-50"},
                                                              {"N9", "m50-rest-50"},
                                                              {"L13 · under 5", "m50-rest-25"},
                                                              {"R6 E · right-hand", "m50-angle-plate-300"},
                                                              {"9:B1", "m50-rest-25"}};
        for (const auto& [callout, id] : placed) {
            const auto component = catalogue.share(id);
            setup = setup::with_packers(setup, catalogue);
            const auto seat = setup::parse_callout(setup, setup.stages.front(), *component, callout);
            if (!seat) {
                ADD_FAILURE() << callout << ": " << texts().render(seat.error().text);
                continue;
            }
            const auto next = setup::place(setup, stage, component, *seat);
            if (next)
                setup = next->setup;
            else
                ADD_FAILURE() << callout << ": " << texts().render(next.error().text);
        }
        return setup;
    }();
    return made;
}

const check::Report& report() {
    static const check::Report made = check::check(example());
    return made;
}

std::vector<Page> pages(Paper paper = Paper::a4, base::LengthUnit unit = base::LengthUnit::mm) {
    PageOptions options;
    options.paper = paper;
    options.unit.unit = unit;
    auto made = set_up_pages(example(), report(), texts(), options);
    EXPECT_TRUE(made.ok());
    return made ? *made : std::vector<Page>{};
}

std::vector<const Page*> of_kind(const std::vector<Page>& all, const std::string& word) {
    std::vector<const Page*> found;
    for (const Page& page : all)
        if (page.title.find(word) != std::string::npos) found.push_back(&page);
    return found;
}

std::vector<Label> labels(const Page& page) {
    std::vector<Label> out;
    for (const Item& item : page.items)
        if (item.kind == Item::Kind::label) out.push_back(item.label);
    return out;
}

/// Rings of balloons: wide line, white inside.
std::vector<Circle> balloons(const Page& page) {
    std::vector<Circle> out;
    for (const Item& item : page.items)
        if (item.kind == Item::Kind::circle && item.circle.pen == Pen::outline && item.circle.fill == 0)
            out.push_back(item.circle);
    return out;
}

std::set<std::string> balloon_numbers(const Page& page) {
    std::set<std::string> numbers;
    for (const Circle& ring : balloons(page))
        for (const Label& label : labels(page))
            if (label.align == Align::middle && (label.at + Vec2(0, label.height_mm / 2) - ring.centre).norm() < 0.01)
                numbers.insert(label.text);
    return numbers;
}

double scale_of(const Page& page) {
    for (const Label& label : labels(page)) {
        std::smatch match;
        if (std::regex_match(label.text, match, std::regex("SCALE 1:([0-9.]+)"))) return 1 / std::stod(match[1]);
    }
    return 0;
}

// Every other test looks at this set-up: it must hold what it says.
TEST(Pages, ExampleHoldsItsBlocks) {
    EXPECT_EQ(example().stages.front().placements.size(), 10u);
}

TEST(Pages, OverviewDrawsEveryHoleOfTheTable) {
    const auto all = pages();
    const auto plan = of_kind(all, "plan");
    ASSERT_EQ(plan.size(), 1u);
    const auto holes = std::count_if(plan.front()->items.begin(), plan.front()->items.end(), [](const Item& item) {
        return item.kind == Item::Kind::circle && item.circle.pen == Pen::hole;
    });
    EXPECT_EQ(holes, example().table.cols * example().table.rows);
}

TEST(Pages, EveryBlockHasItsBalloonOnThePlanAndInAZone) {
    const auto all = pages();
    std::set<std::string> wanted, in_zones;
    for (const setup::Placement& placement : example().stages.front().placements)
        wanted.insert(std::to_string(placement.no));
    EXPECT_EQ(balloon_numbers(*of_kind(all, "plan").front()), wanted);
    for (const Page* zone : of_kind(all, "zone")) {
        in_zones.merge(balloon_numbers(*zone));
        // Readability: at most 25 balloons a view.
        EXPECT_LE(balloons(*zone).size(), 25u);
    }
    EXPECT_EQ(in_zones, wanted);
}

TEST(Pages, BalloonsDoNotOverlap) {
    const auto all = pages();
    for (const Page& page : all) {
        const auto rings = balloons(page);
        for (std::size_t i = 0; i < rings.size(); ++i)
            for (std::size_t j = i + 1; j < rings.size(); ++j)
                EXPECT_GE((rings[i].centre - rings[j].centre).norm(), rings[i].radius_mm + rings[j].radius_mm)
                    << page.title;
    }
}

TEST(Pages, EveryCalloutStandsOnceInTheTable) {
    const auto all = pages();
    std::string text;
    for (const Page* page : of_kind(all, "blocks"))
        for (const Label& label : labels(*page))
            if (label.height_mm == 5 && label.bold) text += label.text + "\n";
    // Long callouts break between their parts.
    text = std::regex_replace(text, std::regex("\n· "), " · ");
    const setup::Stage& stage = example().stages.front();
    for (const setup::Placement& placement : stage.placements) {
        const std::string line = setup::callout(example(), stage, placement) + "\n";
        std::size_t count = 0;
        for (std::size_t at = ("\n" + text).find("\n" + line); at != std::string::npos;
             at = ("\n" + text).find("\n" + line, at + 1))
            ++count;
        EXPECT_EQ(count, 1u) << line;
    }
}

TEST(Pages, EveryTextIsInsideThePage) {
    for (const Paper paper : {Paper::a4, Paper::a3, Paper::letter, Paper::tabloid})
        for (const Page& page : pages(paper))
            for (const Label& label : labels(page)) {
                const double width = text_width_mm(label.text, label.height_mm, label.bold);
                if (label.turn_deg != 0) continue;
                const double left = label.at.x() - (label.align == Align::middle  ? width / 2
                                                    : label.align == Align::right ? width
                                                                                  : 0);
                EXPECT_GE(left, 10) << page.title << ": " << label.text;
                EXPECT_LE(left + width, page.width_mm - 10 + 0.01) << page.title << ": " << label.text;
                EXPECT_GE(label.at.y(), 10) << page.title << ": " << label.text;
                EXPECT_LE(label.at.y() + label.height_mm, page.height_mm - 10) << page.title << ": " << label.text;
            }
}

// ISO 5455 lists 1:1, 1:2, 1:5 and these times powers of ten.
TEST(Pages, ScalesComeFromTheStandardsList) {
    for (const Paper paper : {Paper::a4, Paper::a3, Paper::letter, Paper::tabloid})
        for (const Page& page : pages(paper)) {
            const double scale = scale_of(page);
            if (scale == 0) continue;
            const double decade = std::pow(10, std::floor(std::log10(1 / scale) + 1e-9));
            const double lead = 1 / scale / decade;
            EXPECT_TRUE(std::abs(lead - 1) < 1e-9 || std::abs(lead - 2) < 1e-9 || std::abs(lead - 5) < 1e-9)
                << page.title << ' ' << scale;
        }
}

TEST(Pages, ZonesAreAtLeastOneToFiveWithLabelsOfFiveMillimetres) {
    const auto all = pages();
    ASSERT_FALSE(of_kind(all, "zone").empty());
    for (const Page* zone : of_kind(all, "zone")) {
        EXPECT_GE(scale_of(*zone), 0.2 - 1e-12);
        bool found = false;
        for (const Label& label : labels(*zone))
            if (label.text == "8" && label.bold) found = found || label.height_mm >= 5;
        EXPECT_TRUE(found);
    }
}

TEST(Pages, FaceThatCarriesABlockHasItsElevation) {
    const auto all = pages();
    const bool guest =
        std::any_of(example().stages.front().placements.begin(), example().stages.front().placements.end(),
                    [](const setup::Placement& p) { return p.seat.host.kind == setup::Host::Kind::placement; });
    ASSERT_TRUE(guest);
    EXPECT_EQ(of_kind(all, "face of").size(), 1u);
}

TEST(Pages, FailedFindingsComeBeforeThePicture) {
    const auto all = pages();
    ASSERT_TRUE(report().failed());
    const auto plan = of_kind(all, "plan");
    const auto first = labels(*plan.front()).front();
    EXPECT_TRUE(first.text.starts_with("WRONG: ")) << first.text;
    bool said = false;
    for (const Label& label : labels(*plan.front())) said = said || label.text.starts_with("Not checked yet: ");
    EXPECT_TRUE(said);
}

TEST(Pages, NothingToReportIsSaid) {
    check::Report empty;
    auto made = set_up_pages(example(), empty, texts(), {});
    ASSERT_TRUE(made.ok());
    EXPECT_EQ(labels(made->front()).front().text, "Nothing to report from the checks that were run.");
}

TEST(Pages, SameJobGivesTheSamePages) {
    const auto once = pages(), again = pages();
    ASSERT_EQ(once.size(), again.size());
    for (std::size_t i = 0; i < once.size(); ++i) EXPECT_EQ(svg(once[i]), svg(again[i]));
}

TEST(Pages, TitleBlockIsOnEveryPage) {
    const auto all = pages();
    for (std::size_t i = 0; i < all.size(); ++i) {
        std::set<std::string> said;
        for (const Label& label : labels(all[i])) said.insert(label.text);
        EXPECT_TRUE(said.count("Frame") && said.count("B") && said.count("2026-01-01") && said.count("aaaaaaaaaaaa"))
            << all[i].title;
        EXPECT_TRUE(said.count(std::to_string(i + 1) + " of " + std::to_string(all.size())));
    }
}

// 50 mm = 1.9685 in = 1 31/32 in to the nearest 1/64.
TEST(Pages, InchPagesShowFractionsButKeepThePackersOwnUnit) {
    const auto all = pages(Paper::letter, base::LengthUnit::inch);
    std::set<std::string> said;
    for (const Page* page : of_kind(all, "blocks"))
        for (const Label& label : labels(*page)) said.insert(label.text);
    EXPECT_TRUE(said.count("1 31/32"));
    for (const Page* page : of_kind(all, "blocks")) EXPECT_DOUBLE_EQ(page->width_mm, 11 * 25.4);
}

std::vector<std::string> numbers_in_the_table(const std::vector<Page>& all) {
    std::vector<std::string> numbers;
    for (const Page* page : of_kind(all, "blocks"))
        for (const Label& label : labels(*page))
            if (label.bold && label.height_mm == 4) numbers.push_back(label.text);
    return numbers;
}

// Blocks 1 to 9 stand on the table, 10 on the face of 9; 11 and 12 press: they go on when the piece lies there.
TEST(Pages, TableListsClampsLastWithThePieceTheyPressOn) {
    setup::Setup setup = example();
    const setup::StageId stage = setup.stages.front().id;
    const auto catalogue = shop::load_catalogue(resources + "/catalogue").value();
    const std::pair<const char*, const char*> placed[] = {{"D13 N", "m50-down-clamp-100"}, {"R3", "m50-rest-50"}};
    for (const auto& [callout, id] : placed) {
        const auto component = catalogue.share(id);
        const auto seat = setup::parse_callout(setup, setup.stages.front(), *component, callout);
        ASSERT_TRUE(seat.ok()) << texts().render(seat.error().text);
        const auto next = setup::place(setup, stage, component, *seat);
        ASSERT_TRUE(next.ok()) << texts().render(next.error().text);
        setup = next->setup;
    }
    const auto made = set_up_pages(setup, check::check(setup), texts(), {});
    ASSERT_TRUE(made.ok());
    EXPECT_EQ(numbers_in_the_table(*made),
              (std::vector<std::string>{"1", "2", "3", "4", "5", "6", "7", "8", "9", "12", "10", "11"}));
    const auto last = of_kind(*made, "blocks").back();
    const auto said = labels(*last);
    EXPECT_TRUE(std::any_of(said.begin(), said.end(), [](const Label& l) { return l.text == "P1"; }));
}

// Nearest 0.5 mm or 1/32 in; in brackets what that hides: 464.26 -> 464.5 by 0.24, 676.45 -> 676.5 by 0.05;
// 464.26 mm = 18.278 in = 18 9/32 by 0.003 in.
TEST(Pages, LengthsHaveNoNeedlessDecimals) {
    const Job mm{example(), report(), texts(), {}};
    EXPECT_EQ(mm.length(464.26), "464.5 (464.26)");
    EXPECT_EQ(mm.length(676.45), "676.5");
    EXPECT_EQ(mm.length(900), "900");
    EXPECT_EQ(mm.length(22.5), "22.5");
    PageOptions options;
    options.unit.unit = base::LengthUnit::inch;
    const Job inch{example(), report(), texts(), options};
    EXPECT_EQ(inch.length(464.26), "18 9/32");
    EXPECT_EQ(inch.length(3), "1/8 (0.118)");
}

// The rest on the angle plate's face (25 high) is drawn too, as far as it stands off that face.
TEST(Pages, HeightsShowWhatStandsOnAFace) {
    const auto all = pages();
    std::string said;
    for (const Page* page : of_kind(all, "heights"))
        for (const Label& label : labels(*page)) said += label.text + " ";
    EXPECT_NE(said.find("Block 10 "), std::string::npos) << said;
    EXPECT_NE(said.find("on the face of 9: 25 off the face"), std::string::npos) << said;
}

// 96 in at 1:10 are 243.8 of the 249 mm that Letter leaves inside its frame.
TEST(Pages, PlanOfTheStandardTablesIsOneToTenOnLetterAndA4) {
    const auto tables = shop::load_tables(resources + "/tables").value();
    for (const char* id : {"grid50", "grid2in"})
        for (const Paper paper : {Paper::letter, Paper::a4}) {
            setup::Setup setup = example();
            setup.table = *std::find_if(tables.begin(), tables.end(), [&](const auto& t) { return t.id == id; });
            setup.stages.front().placements.clear();
            PageOptions options;
            options.paper = paper;
            const auto made = set_up_pages(setup, check::Report{}, texts(), options);
            ASSERT_TRUE(made.ok());
            EXPECT_DOUBLE_EQ(scale_of(*of_kind(*made, "plan").front()), 0.1) << id;
        }
}

TEST(Pages, NothingPlacedStillGivesPlanAndPickList) {
    setup::Setup setup = example();
    setup.stages.front().placements.clear();
    const auto made = set_up_pages(setup, check::check(setup), texts(), {});
    ASSERT_TRUE(made.ok());
    EXPECT_EQ(of_kind(*made, "plan").size(), 1u);
    EXPECT_FALSE(of_kind(*made, "pick list").empty());
    EXPECT_TRUE(of_kind(*made, "zone").empty());
    EXPECT_TRUE(of_kind(*made, "blocks").empty());
}

// Second stage: the welded result lies there as one body, with its own plan.
TEST(Pages, EveryStageHasItsPlan) {
    const auto two = setup::add_stage(example(), "second");
    ASSERT_TRUE(two.ok());
    const auto made = set_up_pages(*two, check::check(*two), texts(), {});
    ASSERT_TRUE(made.ok());
    EXPECT_EQ(of_kind(*made, "plan").size(), 2u);
}

// Ids of the shelf ("m50-plate-100") are not what a fitter calls things.
TEST(Pages, FindingsAndPickListNameThingsInWords) {
    setup::Setup setup = example();
    for (auto& [id, count] : setup.shelf.count) count = 0;
    const auto made = set_up_pages(setup, check::check(setup), texts(), {});
    ASSERT_TRUE(made.ok());
    bool said = false;
    for (const Page& page : *made)
        for (const Label& label : labels(page)) {
            said = said || label.text.find("upright plate 100: ") != std::string::npos;
            const std::string in_brackets =
                std::regex_replace(label.text, std::regex("\\(m50-(bolt|dowel)[a-z-]*\\)"), "");
            EXPECT_EQ(in_brackets.find("m50-"), std::string::npos) << label.text;
        }
    EXPECT_TRUE(said);
}

TEST(Pages, NoSentenceIsMissing) {
    for (const Page& page : pages())
        for (const Label& label : labels(page))
            EXPECT_FALSE(std::regex_search(label.text, std::regex("(sheet|name|family)\\.[a-z]"))) << label.text;
}

}  // namespace
