#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <string>

#include "viewer/view.h"

namespace setwright::viewer {
namespace {

/// Relative luminance and contrast as WCAG 2.1 defines them (success criterion 1.4.3, "contrast ratio").
double luminance(const QColor& c) {
    const auto part = [](double v) { return v <= 0.03928 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4); };
    return 0.2126 * part(c.redF()) + 0.7152 * part(c.greenF()) + 0.0722 * part(c.blueF());
}

double contrast(const QColor& a, const QColor& b) {
    const double la = luminance(a), lb = luminance(b);
    return (std::max(la, lb) + 0.05) / (std::min(la, lb) + 0.05);
}

const std::map<std::string, Palette>& palettes() {
    static const std::map<std::string, Palette> both{{"light", Palette::light()}, {"dark", Palette::dark()}};
    return both;
}

TEST(ViewPalette, TextAndSignsAreReadableOnGroundAndTable) {
    for (const auto& [name, p] : palettes()) {
        EXPECT_GT(contrast(p.label, p.ground), 7) << name;
        // WCAG 2.1, 1.4.3: 4.5 for text, which notes and measures are written in.
        for (const QColor& tone : {p.good, p.warn, p.bad, p.plain, p.selected})
            EXPECT_GT(contrast(tone, p.ground), 4.5) << name << " " << tone.name().toStdString();
        // WCAG 2.1, 1.4.11: 3 for marks.
        for (const QColor& tone : {p.good, p.warn, p.bad, p.plain, p.selected, p.hovered})
            EXPECT_GT(contrast(tone, p.table), 3) << name << " " << tone.name().toStdString();
    }
}

TEST(ViewPalette, BlocksStandOutFromPiecesInGreyscale) {
    for (const auto& [name, p] : palettes()) {
        EXPECT_GT(contrast(p.piece, p.placement), 1.6) << name;
        EXPECT_GT(contrast(p.placement, p.table), 1.6) << name;
        EXPECT_GT(contrast(p.piece_by_hand, p.piece), 1.15) << name;
        EXPECT_GT(contrast(p.piece_edge, p.piece), 4) << name;
        EXPECT_GT(contrast(p.placement_edge, p.placement), 3) << name;
    }
}

/// As a red-blind and as a green-blind eye see it: Viénot, Brettel and Mollon, "Digital video colourmaps for checking
/// the legibility of displays by dichromats", 1999 (the matrices for linear RGB, from memory).
std::array<double, 3> seen(const QColor& c, bool red_blind) {
    const auto linear = [](double v) { return std::pow(v, 2.2); };
    const double r = linear(c.redF()), g = linear(c.greenF()), b = linear(c.blueF());
    if (red_blind) return {0.11238 * r + 0.88762 * g, 0.11238 * r + 0.88762 * g, 0.00401 * r - 0.00401 * g + b};
    return {0.29275 * r + 0.70725 * g, 0.29275 * r + 0.70725 * g, -0.02234 * r + 0.02234 * g + b};
}

TEST(ViewPalette, GoodAndBadStayApartForColourBlindEyes) {
    for (const auto& [name, p] : palettes())
        for (const bool red_blind : {true, false}) {
            const auto apart = [&](const QColor& a, const QColor& b) {
                double sum = 0;
                for (std::size_t i = 0; i < 3; ++i) {
                    const double d = std::pow(std::max(0.0, seen(a, red_blind)[i]), 1 / 2.2) -
                                     std::pow(std::max(0.0, seen(b, red_blind)[i]), 1 / 2.2);
                    sum += d * d;
                }
                return std::sqrt(sum);
            };
            EXPECT_GT(apart(p.good, p.bad), 0.2) << name;
            EXPECT_GT(apart(p.good, p.selected), 0.2) << name;
            EXPECT_GT(apart(p.bad, p.selected), 0.2) << name;
        }
}

}  // namespace
}  // namespace setwright::viewer
