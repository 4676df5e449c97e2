#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include "core/base/result.h"
#include "core/base/units.h"
#include "core/space/shape.h"

namespace setwright::shop {

/// Reads one JSON object of outside data. The first fault is kept with file and key path, later reads give defaults;
/// finish() also finds keys that nobody asked for, so that a misspelt key is never passed over in silence.
class JsonReader {
  public:
    struct Fault {
        std::string where;
        std::optional<base::Error> error;
        /// `what` names the kind of value wanted: a key of the translations.
        void wrong(const std::string& path, const char* what);
    };

    /// `object` must outlive the reader.
    JsonReader(const nlohmann::json& object, std::string path, Fault& fault);

    bool has(const char* key) const;
    double number(const char* key);
    double number_or(const char* key, double fallback);
    /// Greater than 0.
    double size(const char* key);
    int count(const char* key);
    int count_or(const char* key, int fallback);
    std::string text(const char* key);
    std::string text_or(const char* key, std::string fallback);
    bool flag(const char* key);
    space::Vec3 point(const char* key);
    /// Made unit length; the null vector is a fault.
    space::Vec3 direction(const char* key, const space::Vec3& fallback);
    space::Vec2 direction2(const char* key, const space::Vec2& fallback);
    space::Polygon2 polygon(const char* key);
    base::LengthUnit unit(const char* key);
    /// The list under `key`, an empty one where there is none.
    const nlohmann::json& list(const char* key);
    const nlohmann::json& value(const char* key);
    /// "faces[2]".
    std::string item_path(const char* key, std::size_t index) const;
    std::string key_path(const char* key) const;
    void wrong(const char* key, const char* what) { fault_.wrong(key_path(key), what); }
    void finish();

  private:
    const nlohmann::json* find(const char* key);
    std::optional<std::vector<double>> numbers(const nlohmann::json* value, std::size_t count) const;

    const nlohmann::json& object_;
    std::string path_;
    Fault& fault_;
    std::set<std::string> asked_;
};

/// The whole text as one JSON object, or which line is wrong.
base::Result<nlohmann::json> parse_object(std::string_view text, const std::string& where);

const char* key(base::LengthUnit unit);

/// Names of the *.json files of a folder with their path, sorted.
base::Result<std::vector<std::string>> json_files(const std::string& folder);

}  // namespace setwright::shop
