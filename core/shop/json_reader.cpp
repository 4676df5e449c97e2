#include "core/shop/json_reader.h"

#include <algorithm>
#include <cmath>
#include <filesystem>

namespace setwright::shop {

using nlohmann::json;

namespace {

const json& empty_list() {
    static const json list = json::array();
    return list;
}

}  // namespace

void JsonReader::Fault::wrong(const std::string& path, const char* what) {
    if (error) return;
    error =
        base::bad_input({"shop.wrong_value",
                         {{"file", where}, {"key", path}, {"what", std::vector<base::Text>{base::Text{what, {}}}}}});
}

JsonReader::JsonReader(const json& object, std::string path, Fault& fault)
    : object_(object), path_(std::move(path)), fault_(fault) {
    if (!object_.is_object()) fault_.wrong(path_.empty() ? "/" : path_, "shop.kind_object");
}

std::string JsonReader::key_path(const char* key) const {
    return path_.empty() ? key : path_ + "." + key;
}

std::string JsonReader::item_path(const char* key, std::size_t index) const {
    return key_path(key) + "[" + std::to_string(index) + "]";
}

const json* JsonReader::find(const char* key) {
    asked_.insert(key);
    if (!object_.is_object()) return nullptr;
    const auto it = object_.find(key);
    return it == object_.end() ? nullptr : &*it;
}

bool JsonReader::has(const char* key) const {
    return object_.is_object() && object_.contains(key);
}

double JsonReader::number(const char* key) {
    const json* value = find(key);
    if (value != nullptr && value->is_number()) return value->get<double>();
    wrong(key, "shop.kind_number");
    return 0;
}

double JsonReader::number_or(const char* key, double fallback) {
    return find(key) == nullptr ? fallback : number(key);
}

double JsonReader::size(const char* key) {
    const double value = number(key);
    if (!(value > 0)) wrong(key, "shop.kind_size");
    return value;
}

int JsonReader::count(const char* key) {
    const json* value = find(key);
    constexpr std::int64_t most = 1'000'000;
    if (value != nullptr && value->is_number_integer()) {
        const auto number = value->get<std::int64_t>();
        if (number >= -most && number <= most) return static_cast<int>(number);
    }
    wrong(key, "shop.kind_integer");
    return 0;
}

int JsonReader::count_or(const char* key, int fallback) {
    return find(key) == nullptr ? fallback : count(key);
}

std::string JsonReader::text(const char* key) {
    const json* value = find(key);
    if (value != nullptr && value->is_string()) return value->get<std::string>();
    wrong(key, "shop.kind_text");
    return {};
}

std::string JsonReader::text_or(const char* key, std::string fallback) {
    return find(key) == nullptr ? fallback : text(key);
}

bool JsonReader::flag(const char* key) {
    const json* value = find(key);
    if (value == nullptr) return false;
    if (value->is_boolean()) return value->get<bool>();
    wrong(key, "shop.kind_flag");
    return false;
}

std::optional<std::vector<double>> JsonReader::numbers(const json* value, std::size_t count) const {
    if (value == nullptr || !value->is_array() || value->size() != count) return {};
    std::vector<double> out;
    for (const json& entry : *value) {
        if (!entry.is_number()) return {};
        out.push_back(entry.get<double>());
    }
    return out;
}

space::Vec3 JsonReader::point(const char* key) {
    const auto xyz = numbers(find(key), 3);
    if (!xyz) {
        wrong(key, "shop.kind_point");
        return space::Vec3::Zero();
    }
    return {(*xyz)[0], (*xyz)[1], (*xyz)[2]};
}

space::Vec3 JsonReader::direction(const char* key, const space::Vec3& fallback) {
    if (find(key) == nullptr) return fallback;
    const space::Vec3 given = point(key);
    const double length = given.norm();
    if (!(length > 0)) {
        wrong(key, "shop.kind_direction");
        return fallback;
    }
    // Left as it is when already unit, so that what is written reads back to the last bit.
    return std::abs(length - 1) < 1e-12 ? given : space::Vec3(given / length);
}

space::Vec2 JsonReader::direction2(const char* key, const space::Vec2& fallback) {
    const json* value = find(key);
    if (value == nullptr) return fallback;
    const auto xy = numbers(value, 2);
    const double length = xy ? std::hypot((*xy)[0], (*xy)[1]) : 0;
    if (!(length > 0)) {
        wrong(key, "shop.kind_direction");
        return fallback;
    }
    const space::Vec2 given((*xy)[0], (*xy)[1]);
    return std::abs(length - 1) < 1e-12 ? given : space::Vec2(given / length);
}

space::Polygon2 JsonReader::polygon(const char* key) {
    const json& corners = list(key);
    space::Polygon2 out;
    for (const json& corner : corners) {
        const auto xy = numbers(&corner, 2);
        if (!xy) {
            wrong(key, "shop.kind_outline");
            return {};
        }
        out.emplace_back((*xy)[0], (*xy)[1]);
    }
    if (!out.empty() && (out.size() < 3 || !(space::area(out) > 0))) wrong(key, "shop.kind_outline");
    return out;
}

base::LengthUnit JsonReader::unit(const char* key) {
    const std::string name = text(key);
    if (name == "in") return base::LengthUnit::inch;
    if (name != "mm") wrong(key, "shop.kind_unit");
    return base::LengthUnit::mm;
}

const json& JsonReader::list(const char* key) {
    const json* value = find(key);
    if (value == nullptr) return empty_list();
    if (value->is_array()) return *value;
    wrong(key, "shop.kind_list");
    return empty_list();
}

const json& JsonReader::value(const char* key) {
    const json* value = find(key);
    if (value != nullptr) return *value;
    wrong(key, "shop.kind_present");
    return empty_list();
}

void JsonReader::finish() {
    if (fault_.error || !object_.is_object()) return;
    for (const auto& [key, value] : object_.items()) {
        if (asked_.count(key) == 0) {
            fault_.error =
                base::bad_input({"shop.unknown_key", {{"file", fault_.where}, {"key", key_path(key.c_str())}}});
            return;
        }
    }
}

base::Result<json> parse_object(std::string_view text, const std::string& where) {
    try {
        json value = json::parse(text);
        if (value.is_object()) return value;
        return base::bad_input({"shop.not_an_object", {{"file", where}}});
    } catch (const json::parse_error& error) {
        const std::size_t at = std::min(error.byte, text.size());
        const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n');
        return base::bad_input({"shop.not_json", {{"file", where}, {"line", static_cast<std::int64_t>(line)}}});
    } catch (const json::exception&) {
        // A number that no double holds.
        return base::bad_input({"shop.not_json", {{"file", where}, {"line", std::int64_t{1}}}});
    }
}

const char* key(base::LengthUnit unit) {
    return unit == base::LengthUnit::inch ? "in" : "mm";
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
