#include "core/base/units.h"

#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

#include "core/base/bug.h"

namespace setwright::base {

double sin(Angle a) {
    const double d = std::remainder(a.deg(), 360.0);
    if (d == 0 || d == 180 || d == -180) return 0;
    if (d == 90) return 1;
    if (d == -90) return -1;
    return std::sin(d * std::numbers::pi / 180.0);
}

double cos(Angle a) {
    const double d = std::abs(std::remainder(a.deg(), 360.0));
    if (d == 0) return 1;
    if (d == 90) return 0;
    if (d == 180) return -1;
    return std::cos(d * std::numbers::pi / 180.0);
}

std::string number_text(double value) {
    std::array<char, 32> buffer;
    if (value == 0) value = 0;  // no "-0"
    const auto [end, error] = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
    SETWRIGHT_ASSERT(error == std::errc{}, "the shortest round trip of a double fits 32 characters");
    return {buffer.data(), end};
}

std::string decimal_text(double value, int decimals) {
    std::array<char, 400> buffer;
    const auto [end, error] =
        std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, decimals);
    SETWRIGHT_ASSERT(error == std::errc{}, "fixed text of a double fits 400 characters");
    std::string text(buffer.data(), end);
    if (text.find('.') != std::string::npos) {
        while (text.back() == '0') text.pop_back();
        if (text.back() == '.') text.pop_back();
    }
    return text == "-0" ? "0" : text;
}

double round_json(double value) {
    const double rounded = std::round(value * 1e6) / 1e6;
    return rounded == 0 ? 0 : rounded;
}

namespace {

std::string inch_text(double mm, int denominator) {
    const double sixty_fourths = std::round(std::abs(mm) / mm_per_inch * denominator);
    auto count = static_cast<std::int64_t>(sixty_fourths);
    std::int64_t whole = count / denominator;
    std::int64_t numerator = count % denominator;
    std::int64_t divisor = denominator;
    while (numerator != 0 && numerator % 2 == 0) {
        numerator /= 2;
        divisor /= 2;
    }
    std::string text = mm < 0 && count != 0 ? "-" : "";
    if (whole != 0 || numerator == 0) text += std::to_string(whole);
    if (numerator != 0) {
        if (whole != 0) text += ' ';
        text += std::to_string(numerator) + '/' + std::to_string(divisor);
    }
    return text;
}

}  // namespace

std::string format_length(double mm, DisplayUnit unit) {
    return unit.unit == LengthUnit::inch ? inch_text(mm, unit.denominator) : decimal_text(mm, unit.decimals);
}

std::string format_length_with_unit(double mm, DisplayUnit unit) {
    return format_length(mm, unit) + (unit.unit == LengthUnit::inch ? "\"" : " mm");
}

bool length_is_rounded(double mm, DisplayUnit unit) {
    const double step = unit.unit == LengthUnit::inch ? mm_per_inch / unit.denominator : std::pow(10.0, -unit.decimals);
    return std::abs(mm - std::round(mm / step) * step) > 0.1;
}

namespace {

/// Reads a non-negative decimal with point or comma; the text keeps what was not read.
std::optional<double> take_number(std::string_view& text) {
    std::string digits;
    std::size_t used = 0;
    bool point = false;
    for (; used < text.size(); ++used) {
        const char c = text[used];
        if (c >= '0' && c <= '9') {
            digits += c;
        } else if ((c == '.' || c == ',') && !point) {
            digits += '.';
            point = true;
        } else {
            break;
        }
    }
    double value = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    if (digits.empty() || error != std::errc{} || end != digits.data() + digits.size()) return std::nullopt;
    text.remove_prefix(used);
    return value;
}

void skip_spaces(std::string_view& text) {
    while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
}

std::optional<LengthUnit> take_unit(std::string_view& text) {
    struct Sign {
        std::string_view text;
        LengthUnit unit;
    };
    static constexpr std::array signs{Sign{"mm", LengthUnit::mm},     Sign{"inches", LengthUnit::inch},
                                      Sign{"inch", LengthUnit::inch}, Sign{"in", LengthUnit::inch},
                                      Sign{"\"", LengthUnit::inch},   Sign{"″", LengthUnit::inch}};
    for (const Sign& sign : signs) {
        if (text.starts_with(sign.text)) {
            text.remove_prefix(sign.text.size());
            return sign.unit;
        }
    }
    return std::nullopt;
}

}  // namespace

std::optional<double> parse_length(std::string_view text, LengthUnit fallback) {
    skip_spaces(text);
    const bool negative = text.starts_with('-');
    if (negative || text.starts_with('+')) text.remove_prefix(1);
    skip_spaces(text);
    std::optional<double> value = take_number(text);
    if (!value) return std::nullopt;
    const auto fraction_of = [&](double numerator) -> std::optional<double> {
        text.remove_prefix(1);
        const std::optional<double> divisor = take_number(text);
        if (!divisor || *divisor == 0) return std::nullopt;
        return numerator / *divisor;
    };
    if (text.starts_with('/')) {
        value = fraction_of(*value);
    } else if (text.size() > 1 && (text.front() == ' ' || text.front() == '-')) {
        std::string_view rest = text;
        rest.remove_prefix(1);
        skip_spaces(rest);
        if (const std::optional<double> numerator = take_number(rest)) {
            text = rest;
            if (!text.starts_with('/')) return std::nullopt;
            const std::optional<double> fraction = fraction_of(*numerator);
            value = fraction ? std::optional(*value + *fraction) : std::nullopt;
        }
    }
    if (!value) return std::nullopt;
    skip_spaces(text);
    const LengthUnit unit = take_unit(text).value_or(fallback);
    skip_spaces(text);
    if (!text.empty()) return std::nullopt;
    const double mm = unit == LengthUnit::inch ? *value * mm_per_inch : *value;
    return negative ? -mm : mm;
}

}  // namespace setwright::base
