#include "core/shop/definition.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>

namespace setwright::shop {

using base::Json;
using base::JsonValue;

namespace {

/// By the number of the enum value.
constexpr std::array unit_names{"mm", "in"};

/// Left as it is when already unit, so that what is written reads back to the last bit.
template <class Vector>
Vector unit_length(const Vector& given, double length) {
    return std::abs(length - 1) < 1e-12 ? given : Vector(given / length);
}

}  // namespace

const base::JsonSentences definition_sentences{"shop.not_json",     "shop.too_deep",     "shop.key_twice",
                                               "shop.missing_key",  "shop.unknown_key",  "shop.wrong_value",
                                               "shop.out_of_range", "shop.word_unknown", "shop.list_length"};

base::Result<Json> parse_object(std::string_view text, const std::string& where) {
    base::Result<Json> tree = base::parse_json(text, where, definition_sentences);
    if (tree && !tree->is_object()) return base::bad_input({"shop.not_an_object", {{"file", where}}});
    return tree;
}

double read_size(const JsonValue& value) {
    const double size = value.number();
    if (!(size > 0)) value.wrong("shop.kind_size");
    return size;
}

int read_count(const JsonValue& value) {
    return value.integer(-1'000'000, 1'000'000);
}

int read_count_from_one(const JsonValue& value) {
    return value.integer(1, 1'000'000);
}

base::LengthUnit read_unit(const JsonValue& value) {
    return value.word<base::LengthUnit>(unit_names);
}

double number_or(const JsonValue& value, double fallback) {
    return value.is_there() ? value.number() : fallback;
}

int count_or(const JsonValue& value, int fallback) {
    return value.is_there() ? value.integer(0, 1'000'000) : fallback;
}

std::string text_or(const JsonValue& value, std::string fallback) {
    return value.is_there() ? value.text() : fallback;
}

bool flag(const JsonValue& value) {
    return value.is_there() && value.truth();
}

std::vector<JsonValue> list(const JsonValue& value) {
    return value.is_there() ? value.items() : std::vector<JsonValue>{};
}

space::Vec3 read_point(const JsonValue& value) {
    const auto xyz = value.numbers_if<3>();
    if (!xyz) value.wrong("shop.kind_point");
    return xyz ? space::Vec3((*xyz)[0], (*xyz)[1], (*xyz)[2]) : space::Vec3::Zero();
}

space::Vec3 read_direction(const JsonValue& value, const space::Vec3& fallback) {
    if (!value.is_there()) return fallback;
    const space::Vec3 given = read_point(value);
    const double length = given.norm();
    if (length > 0) return unit_length(given, length);
    value.wrong("shop.kind_direction");
    return fallback;
}

space::Vec2 read_direction2(const JsonValue& value, const space::Vec2& fallback) {
    if (!value.is_there()) return fallback;
    const auto xy = value.numbers_if<2>();
    const double length = xy ? std::hypot((*xy)[0], (*xy)[1]) : 0;
    if (length > 0) return unit_length(space::Vec2((*xy)[0], (*xy)[1]), length);
    value.wrong("shop.kind_direction");
    return fallback;
}

space::Polygon2 read_polygon(const JsonValue& value) {
    space::Polygon2 out;
    for (const JsonValue& corner : list(value)) {
        const auto xy = corner.numbers_if<2>();
        if (!xy) {
            value.wrong("shop.kind_outline");
            return {};
        }
        out.emplace_back((*xy)[0], (*xy)[1]);
    }
    if (!out.empty() && (out.size() < 3 || !(space::area(out) > 0))) value.wrong("shop.kind_outline");
    return out;
}

const char* key(base::LengthUnit unit) {
    return unit_names[static_cast<std::size_t>(unit)];
}

base::Result<std::vector<std::string>> json_files(const std::string& folder) {
    std::vector<std::string> files;
    std::error_code error;
    std::filesystem::directory_iterator it(folder, error);
    for (const std::filesystem::directory_iterator end; !error && it != end; it.increment(error)) {
        if (it->path().extension() == ".json") files.push_back(it->path().string());
    }
    if (error) return base::bad_input({"shop.folder_cannot_read", {{"path", folder}, {"reason", error.message()}}});
    std::sort(files.begin(), files.end());
    return files;
}

}  // namespace setwright::shop
