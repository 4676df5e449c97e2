#include "core/sheet/drawing.h"

#include <gtest/gtest.h>

#include "core/sheet/pages.h"
#include "core/sheet/svg.h"

namespace {

using namespace setwright::sheet;

// Advances read from the font files' hmtx tables by a separate script: plain H 1386, K 1208, digits 1172, space 585;
// bold H 1542, digits 1282. An H is 1493 units high in both.
TEST(Drawing, TextWidthIsTheSumOfTheFontsAdvances) {
    constexpr double tolerance = 1e-9;
    EXPECT_NEAR(text_width_mm("H", 3.5, false), 3.5 * 1386 / 1493, tolerance);
    EXPECT_NEAR(text_width_mm("K14 9", 5, false), 5.0 * (1208 + 1172 + 1172 + 585 + 1172) / 1493, tolerance);
    EXPECT_NEAR(text_width_mm("H1", 5, true), 5.0 * (1542 + 1282) / 1493, tolerance);
    EXPECT_EQ(text_width_mm("", 5, true), 0);
    EXPECT_NEAR(em_per_capital(false), 2048.0 / 1493, tolerance);
}

// A character of two bytes counts once: U+00B7 has 585 units in the plain face.
TEST(Drawing, Utf8CharactersAreMeasuredWhole) {
    EXPECT_NEAR(text_width_mm("·", 10, false), 10.0 * 585 / 1493, 1e-9);
}

TEST(Drawing, WrapBreaksAtSpacesAndLosesNothing) {
    const std::string text = "one two three four five six seven";
    const auto lines = wrap(text, 3.5, false, 30);
    ASSERT_GT(lines.size(), 1u);
    std::string joined;
    for (const std::string& line : lines) {
        EXPECT_LE(text_width_mm(line, 3.5, false), 30);
        joined += (joined.empty() ? "" : " ") + line;
    }
    EXPECT_EQ(joined, text);
    const auto one = wrap("incomprehensibilities", 5, false, 10);
    EXPECT_EQ(one.size(), 1u);
    EXPECT_TRUE(wrap("", 5, false, 10).empty());
}

// ISO 128: wide to narrow 2 : 1; 0.5 and 0.25 for A4 and A3.
TEST(Drawing, PensKeepTheIsoRatio) {
    EXPECT_DOUBLE_EQ(pen_width_mm(Pen::outline), 2 * pen_width_mm(Pen::thin));
    EXPECT_FALSE(pen_dashes_mm(Pen::hidden).empty());
    EXPECT_TRUE(pen_dashes_mm(Pen::outline).empty());
}

TEST(Svg, IsInTrueMillimetresAndEscapesText) {
    Page page;
    page.width_mm = 279.4;
    page.height_mm = 215.9;
    page.title = "a < b";
    page.add(Line{{{20, 10}, {120, 10}}, Pen::thin, false, -1});
    page.add(Label{{30, 20}, "P&Q \"1/2\"", 3.5, Align::middle, true, 90});
    const std::string text = svg(page);
    EXPECT_NE(text.find("width=\"279.4mm\" height=\"215.9mm\" viewBox=\"0 0 279.4 215.9\""), std::string::npos);
    // y counts down from the top in SVG: 215.9 - 10.
    EXPECT_NE(text.find("M20 205.9L120 205.9"), std::string::npos);
    EXPECT_NE(text.find("P&amp;Q &quot;1/2&quot;"), std::string::npos);
    EXPECT_NE(text.find("<title>a &lt; b</title>"), std::string::npos);
    EXPECT_NE(text.find("rotate(-90 30 195.9)"), std::string::npos);
}

TEST(Paper, NamesAreReadInAnyCase) {
    EXPECT_EQ(parse_paper("A4"), Paper::a4);
    EXPECT_EQ(parse_paper("a3"), Paper::a3);
    EXPECT_EQ(parse_paper("Letter"), Paper::letter);
    EXPECT_EQ(parse_paper("tabloid"), Paper::tabloid);
    EXPECT_FALSE(parse_paper("A5"));
}

}  // namespace
