#include "core/base/units.h"

#include <gtest/gtest.h>

#include <cmath>

namespace setwright::base {
namespace {

constexpr DisplayUnit mm{};
constexpr DisplayUnit inch{LengthUnit::inch};

TEST(Angle, SineAndCosineAreExactAtQuarterTurns) {
    for (int turns = -8; turns <= 8; ++turns) {
        const Angle a = Angle::deg(90.0 * turns);
        const int quarter = ((turns % 4) + 4) % 4;
        EXPECT_EQ(sin(a), (std::array{0.0, 1.0, 0.0, -1.0})[static_cast<std::size_t>(quarter)]) << turns;
        EXPECT_EQ(cos(a), (std::array{1.0, 0.0, -1.0, 0.0})[static_cast<std::size_t>(quarter)]) << turns;
    }
    EXPECT_NEAR(sin(Angle::deg(30)), 0.5, 1e-15);
}

TEST(Length, ReadsWhatPeopleWrite) {
    struct Case {
        const char* text;
        LengthUnit fallback;
        double mm;
    };
    // One inch is 25.4 mm exactly (international yard and pound agreement, 1959).
    const Case cases[] = {{"12.5", LengthUnit::mm, 12.5},
                          {"12,5", LengthUnit::mm, 12.5},
                          {"19 mm", LengthUnit::inch, 19},
                          {"3/4\"", LengthUnit::mm, 0.75 * 25.4},
                          {"3/4", LengthUnit::inch, 0.75 * 25.4},
                          {"1 1/2\"", LengthUnit::mm, 1.5 * 25.4},
                          {"1-1/2 in", LengthUnit::mm, 1.5 * 25.4},
                          {"-2", LengthUnit::mm, -2},
                          {" 2 inch ", LengthUnit::mm, 50.8},
                          {"0", LengthUnit::inch, 0},
                          {".5", LengthUnit::mm, 0.5}};
    for (const Case& c : cases) {
        const auto got = parse_length(c.text, c.fallback);
        ASSERT_TRUE(got) << c.text;
        EXPECT_NEAR(*got, c.mm, 1e-12) << c.text;
    }
}

TEST(Length, RefusesWhatIsNoLength) {
    for (const char* text :
         {"", " ", "-", ".", "1/0", "1 2", "1e5", "12 mmm", "a", "1/", "/2", "1.2.3", "1 1/0", "nan", "inf", "4 ft"})
        EXPECT_FALSE(parse_length(text, LengthUnit::mm)) << text;
}

TEST(Length, IsShownAsFractionsToTheSixtyFourth) {
    EXPECT_EQ(format_length(38.1, inch), "1 1/2");
    EXPECT_EQ(format_length(25.4 / 64, inch), "1/64");
    EXPECT_EQ(format_length(0, inch), "0");
    EXPECT_EQ(format_length(-38.1, inch), "-1 1/2");
    EXPECT_EQ(format_length(25.4, inch), "1");
    // 19.99 mm = 50.37/64 in: rounds to 50/64 = 25/32.
    EXPECT_EQ(format_length(19.99, inch), "25/32");
    EXPECT_EQ(format_length_with_unit(19.05, inch), "3/4\"");
}

TEST(Length, IsShownInMillimetresWithoutUselessZeros) {
    EXPECT_EQ(format_length(50, mm), "50");
    EXPECT_EQ(format_length(12.5, mm), "12.5");
    EXPECT_EQ(format_length(442.941, mm), "442.94");
    EXPECT_EQ(format_length(-0.001, mm), "0");
    EXPECT_EQ(format_length_with_unit(50, mm), "50 mm");
}

TEST(Length, EveryShownFractionReadsBackWithinHalfASixtyFourth) {
    for (int i = 0; i < 5000; ++i) {
        const double length = i * 0.37;
        const auto back = parse_length(format_length(length, inch), LengthUnit::inch);
        ASSERT_TRUE(back) << length;
        EXPECT_LE(std::abs(*back - length), 25.4 / 128 + 1e-9) << length;
    }
}

TEST(Length, SaysWhenRoundingHidesMoreThanATenth) {
    EXPECT_FALSE(length_is_rounded(12.5, mm));
    EXPECT_TRUE(length_is_rounded(25.4 * 0.3 + 0.15, {LengthUnit::inch, 2, 16}));
}

TEST(Number, TextIsShortestAndNeverMinusZero) {
    EXPECT_EQ(number_text(0.1), "0.1");
    EXPECT_EQ(number_text(-0.0), "0");
    EXPECT_EQ(round_json(-1e-9), 0);
    EXPECT_FALSE(std::signbit(round_json(-1e-9)));
    EXPECT_EQ(decimal_text(-0.001, 2), "0");
}

}  // namespace
}  // namespace setwright::base
