#pragma once

#include <numbers>
#include <optional>
#include <string>
#include <string_view>

namespace setwright::base {

inline constexpr double mm_per_inch = 25.4;

/// An angle, made only by deg() or rad() so that the two never mix.
class Angle {
  public:
    constexpr Angle() = default;
    static constexpr Angle deg(double d) { return Angle(d); }
    static constexpr Angle rad(double r) { return Angle(r * 180.0 / std::numbers::pi); }
    constexpr double deg() const { return deg_; }
    constexpr double rad() const { return deg_ * std::numbers::pi / 180.0; }
    friend constexpr auto operator<=>(Angle, Angle) = default;

  private:
    constexpr explicit Angle(double d) : deg_(d) {}
    double deg_ = 0;
};

/// Sine and cosine that are exact at multiples of 90 degrees, so right-angle set-ups stay exact.
double sin(Angle a);
double cos(Angle a);

enum class LengthUnit { mm, inch };

/// How a person sees lengths. Inside, all lengths are mm.
struct DisplayUnit {
    LengthUnit unit = LengthUnit::mm;
    /// Decimals of millimetres, trailing zeros dropped.
    int decimals = 2;
    /// Inch fractions are rounded to 1/denominator: a power of two up to 64.
    int denominator = 64;
    friend bool operator==(const DisplayUnit&, const DisplayUnit&) = default;
};

/// "12.5", or in inches "1 1/2", "3/4", "0". A trailing "±" mark is not added; see length_is_rounded().
std::string format_length(double mm, DisplayUnit unit);
/// With the unit's sign: "12.5 mm", `1 1/2"`.
std::string format_length_with_unit(double mm, DisplayUnit unit);
/// True where the text of format_length differs from the value by more than 0.1 mm: the exact value belongs in
/// brackets.
bool length_is_rounded(double mm, DisplayUnit unit);

/// Reads what people write: "12.5", "12,5", "19 mm", `3/4"`, "1 1/2 in", "1-1/2". Without a unit `fallback` holds.
/// Returns mm; none where the text is no length.
std::optional<double> parse_length(std::string_view text, LengthUnit fallback);

/// Locale-free shortest round trip ("0.1", "1e-07"), for files.
std::string number_text(double value);
/// Locale-free fixed decimals with trailing zeros dropped, "-0" shown as "0"; for people.
std::string decimal_text(double value, int decimals);
/// Rounds to 1e-6, the resolution of the JSON contract; never gives -0.
double round_json(double value);

}  // namespace setwright::base
