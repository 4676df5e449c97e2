#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/base/json_reader.h"
#include "core/base/units.h"
#include "core/space/shape.h"

/// What the definition files of the shop (tables, components, shelves) have in common. For .cpp files only.
namespace setwright::shop {

extern const base::JsonSentences definition_sentences;

/// The whole text as one JSON object, or which line is wrong.
base::Result<base::Json> parse_object(std::string_view text, const std::string& where);

/// Greater than 0.
double read_size(const base::JsonValue& value);
int read_count(const base::JsonValue& value);
/// From 1 up.
int read_count_from_one(const base::JsonValue& value);
base::LengthUnit read_unit(const base::JsonValue& value);

// What may be left out.
double number_or(const base::JsonValue& value, double fallback);
int count_or(const base::JsonValue& value, int fallback);
std::string text_or(const base::JsonValue& value, std::string fallback);
bool flag(const base::JsonValue& value);
std::vector<base::JsonValue> list(const base::JsonValue& value);

space::Vec3 read_point(const base::JsonValue& value);
/// Made unit length; the null vector is a fault, nothing gives `fallback`.
space::Vec3 read_direction(const base::JsonValue& value, const space::Vec3& fallback);
space::Vec2 read_direction2(const base::JsonValue& value, const space::Vec2& fallback);
/// Empty where there is none.
space::Polygon2 read_polygon(const base::JsonValue& value);

const char* key(base::LengthUnit unit);

/// Names of the *.json files of a folder with their path, sorted.
base::Result<std::vector<std::string>> json_files(const std::string& folder);

}  // namespace setwright::shop
