#pragma once

#include <memory>
#include <string>
#include <vector>

#include "core/shop/component.h"
#include "core/shop/table.h"

namespace setwright::shop {

/// Components of one or more table systems, sorted by id.
struct Catalogue {
    std::vector<std::shared_ptr<const Component>> components;
    const Component* find(std::string_view id) const;
    std::shared_ptr<const Component> share(std::string_view id) const;
};

/// Reads every *.json of a folder: families as value tables ("columns", "rows", a template with "$column").
base::Result<Catalogue> load_catalogue(const std::string& folder);

/// Hole diameter and pitch suit: it can sit on a grid of this pitch and hole.
bool fits(const Component& component, double hole_mm, double pitch_x_mm, double pitch_y_mm);

}  // namespace setwright::shop
