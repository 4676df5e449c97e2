#pragma once

#include <map>
#include <string>

#include "core/base/result.h"

namespace setwright::shop {

/// What the shop owns: counts by component id. Upright plates and packers are components of their own ids.
struct Shelf {
    std::string id;
    std::string name;
    std::map<std::string, int> count;

    int have(const std::string& component) const;
    friend bool operator==(const Shelf&, const Shelf&) = default;
};

base::Result<Shelf> load_shelf(const std::string& path);
base::Result<Shelf> parse_shelf(std::string_view json, const std::string& where);
std::string shelf_json(const Shelf& shelf);

}  // namespace setwright::shop
