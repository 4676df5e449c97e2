#include "core/shop/table.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <unistd.h>

#include <array>
#include <filesystem>
#include <fstream>
#include <set>

namespace setwright::shop {
namespace {

const std::string folder = std::string(SETWRIGHT_RESOURCES_DIR) + "/tables";

std::string argument(const base::Error& error, const char* name) {
    const auto it = error.text.arguments.find(name);
    return it == error.text.arguments.end() ? "" : std::get<std::string>(it->second);
}

TEST(HoleLabel, CountsColumnsFromOneAndLettersRowsFromTheLowerLeft) {
    EXPECT_EQ(hole_label({0, 0}), "A1");
    EXPECT_EQ(hole_label({47, 23}), "Z48");
    // A B C D E F G H J K: the tenth letter without I.
    EXPECT_EQ(hole_label({13, 9}), "K14");
}

TEST(HoleLabel, LeavesOutLettersThatReadAsNumbers) {
    EXPECT_EQ(hole_label({0, 7}), "H1");
    EXPECT_EQ(hole_label({0, 8}), "J1");
    EXPECT_EQ(hole_label({0, 12}), "N1");
    EXPECT_EQ(hole_label({0, 13}), "P1");
}

TEST(HoleLabel, GoesOnWithTwoLettersAfterZ) {
    // 24 letters are left, so row 25 is AA and row 24 + 24 * 24 + 1 the first with three.
    EXPECT_EQ(hole_label({2, 24}), "AA3");
    EXPECT_EQ(hole_label({0, 25}), "AB1");
    EXPECT_EQ(hole_label({0, 24 + 24 * 24 - 1}), "ZZ1");
    EXPECT_EQ(hole_label({0, 24 + 24 * 24}), "AAA1");
}

TEST(HoleLabel, ReadsBackEveryRowAndGivesEachItsOwn) {
    std::set<std::string> seen;
    for (int row = 0; row <= 2000; ++row) {
        const Hole hole{row % 97, row};
        const std::string label = hole_label(hole);
        EXPECT_EQ(label.find_first_of("IO"), std::string::npos) << label;
        EXPECT_EQ(parse_hole_label(label), hole) << label;
        EXPECT_TRUE(seen.insert(hole_label({0, row})).second) << label;
    }
}

TEST(HoleLabel, DoesNotCareAboutCase) {
    EXPECT_EQ(parse_hole_label("aa3"), parse_hole_label("AA3"));
}

TEST(HoleLabel, RefusesWhatIsNoLabel) {
    for (const char* text : {"", "K", "14", "I1", "O3", "AI3", "A0", "A01", "A-1", "A+1", "A1 ", " A1", "A1B", "AAAAA1",
                             "A99999999999", "Ä1"}) {
        EXPECT_FALSE(parse_hole_label(text)) << text;
    }
}

TEST(HoleLabel, IsEmptyOffTheLowerLeft) {
    EXPECT_EQ(hole_label({-1, 0}), "");
    EXPECT_EQ(hole_label({0, -1}), "");
}

TEST(Tables, OfTheStarterSetHaveHolesThatFillThePlate) {
    const auto tables = load_tables(folder);
    ASSERT_TRUE(tables.ok());
    std::set<std::string> ids;
    for (const Table& t : *tables) {
        ids.insert(t.id);
        EXPECT_NEAR(t.length_mm, 2 * t.margin_west_mm + (t.cols - 1) * t.pitch_x_mm, 1e-9) << t.id;
        EXPECT_NEAR(t.width_mm, 2 * t.margin_south_mm + (t.rows - 1) * t.pitch_y_mm, 1e-9) << t.id;
        EXPECT_LT(t.hole_mm, t.pitch_x_mm) << t.id;
        EXPECT_EQ(t.walkable.size(), 4u) << t.id;
        EXPECT_EQ(parse_table(table_json(t), t.id).value(), t);
    }
    EXPECT_THAT(ids, testing::ElementsAre("grid100", "grid2in", "grid50", "grid80"));
}

TEST(Tables, OfTheStarterSetHaveTheNamedSizes) {
    const auto tables = load_tables(folder);
    ASSERT_TRUE(tables.ok());
    const auto size = [&](const std::string& id) {
        for (const Table& t : *tables) {
            if (t.id == id) return std::array{t.pitch_x_mm, t.hole_mm, t.length_mm, t.width_mm};
        }
        return std::array<double, 4>{};
    };
    EXPECT_EQ(size("grid50"), (std::array{50.0, 16.0, 2400.0, 1200.0}));
    EXPECT_EQ(size("grid100"), (std::array{100.0, 28.0, 3000.0, 1500.0}));
    EXPECT_EQ(size("grid80"), (std::array{80.0, 20.0, 2400.0, 1200.0}));
    const std::array in_inches{2 * 25.4, 5 * 25.4 / 8, 96 * 25.4, 48 * 25.4};
    for (std::size_t i = 0; i < in_inches.size(); ++i) EXPECT_DOUBLE_EQ(size("grid2in")[i], in_inches[i]);
}

Table full_table() {
    Table t;
    t.id = "own";
    t.name = "Home-cut table";
    t.nominal = base::LengthUnit::inch;
    t.pitch_x_mm = 50.8;
    t.pitch_y_mm = 76.2;
    t.hole_mm = 15.9;
    t.cols = 10;
    t.rows = 30;
    t.margin_west_mm = 20.1;
    t.margin_south_mm = 1.0 / 3.0;
    t.length_mm = 500;
    t.width_mm = 2300;
    t.thickness_mm = 12;
    t.top_height_mm = 900;
    t.walkable = {TableSide::north, TableSide::west};
    t.blocked = {{3, 4}, {9, 29}};
    t.deviations = {{{0, 24}, 0.12, -0.07}};
    t.joined = {{"grid50", {-48, 0}}};
    return t;
}

TEST(Tables, ComeBackWholeAndByteEqualFromJson) {
    const std::string json = table_json(full_table());
    const auto back = parse_table(json, "own.json");
    ASSERT_TRUE(back.ok());
    EXPECT_EQ(*back, full_table());
    EXPECT_EQ(table_json(*back), json);
    EXPECT_TRUE(back->is_blocked({9, 29}));
    EXPECT_FALSE(back->is_blocked({9, 28}));
}

struct Damage {
    const char* what;
    const char* from;
    const char* to;
    const char* key;
};

class FaultyTable : public testing::TestWithParam<Damage> {};

TEST_P(FaultyTable, IsRefusedWithFileAndKey) {
    std::string json = table_json(full_table());
    const auto at = json.find(GetParam().from);
    ASSERT_NE(at, std::string::npos);
    json.replace(at, std::string(GetParam().from).size(), GetParam().to);
    const auto table = parse_table(json, "own.json");
    ASSERT_FALSE(table.ok()) << GetParam().what;
    EXPECT_EQ(argument(table.error(), "file"), "own.json");
    EXPECT_EQ(argument(table.error(), "key"), GetParam().key);
}

INSTANTIATE_TEST_SUITE_P(
    Tables, FaultyTable,
    testing::Values(Damage{"text for a number", "\"hole_mm\":15.9", "\"hole_mm\":\"15.9\"", "hole_mm"},
                    Damage{"nothing", "\"rows\":30,", "", "rows"},
                    Damage{"fraction", "\"rows\":30", "\"rows\":30.5", "rows"},
                    Damage{"negative pitch", "\"pitch_x_mm\":50.8", "\"pitch_x_mm\":-50.8", "pitch_x_mm"},
                    Damage{"no columns", "\"cols\":10", "\"cols\":0", "cols"},
                    Damage{"unit", "\"nominal\":\"in\"", "\"nominal\":\"ft\"", "nominal"},
                    Damage{"side", "\"north\"", "\"up\"", "walkable[0]"},
                    Damage{"hole", "\"E4\"", "\"I4\"", "blocked[0]"},
                    Damage{"hole off the table", "\"E4\"", "\"E40\"", "blocked[0]"},
                    Damage{"hole of a deviation", "\"AA1\"", "7", "deviations[0].hole"},
                    Damage{"misspelt key", "\"thickness_mm\"", "\"thicknes_mm\"", "thickness_mm"},
                    Damage{"unknown key", "\"id\":", "\"colour\":1,\"id\":", "colour"}),
    [](const auto& info) { return "Case" + std::to_string(info.index); });

TEST(Tables, SayWhichFileIsNotJson) {
    for (const char* text : {"", "{", "[1,2]", "{\"id\": 1e999}", "\xff\xfe"}) {
        const auto table = parse_table(text, "own.json");
        ASSERT_FALSE(table.ok()) << text;
        EXPECT_EQ(argument(table.error(), "file"), "own.json");
    }
}

TEST(Tables, OfOneFolderMayNotShareAnId) {
    const auto temp = std::filesystem::temp_directory_path() / ("setwright-tables-" + std::to_string(getpid()));
    std::filesystem::create_directories(temp);
    for (const char* name : {"a.json", "b.json"}) std::ofstream(temp / name) << table_json(full_table());
    const auto tables = load_tables(temp.string());
    std::filesystem::remove_all(temp);
    ASSERT_FALSE(tables.ok());
    EXPECT_EQ(tables.error().text.id, "shop.id_twice");
}

TEST(Tables, SayWhichFolderIsNotThere) {
    const auto tables = load_tables("/nowhere/tables");
    ASSERT_FALSE(tables.ok());
    EXPECT_EQ(argument(tables.error(), "path"), "/nowhere/tables");
}

}  // namespace
}  // namespace setwright::shop
