#include "core/shop/shelf.h"

#include <nlohmann/json.hpp>

#include "core/base/file.h"
#include "core/shop/json_reader.h"

namespace setwright::shop {

int Shelf::have(const std::string& component) const {
    const auto it = count.find(component);
    return it == count.end() ? 0 : it->second;
}

base::Result<Shelf> parse_shelf(std::string_view text, const std::string& where) {
    base::Result<nlohmann::json> parsed = parse_object(text, where);
    if (!parsed) return parsed.error();
    JsonReader::Fault fault{where, {}};
    JsonReader in(*parsed, "", fault);
    Shelf shelf;
    shelf.id = in.text("id");
    shelf.name = in.text("name");
    JsonReader counts(in.value("count"), in.key_path("count"), fault);
    if (in.value("count").is_object()) {
        for (const auto& [component, number] : in.value("count").items()) {
            const int n = counts.count(component.c_str());
            if (n < 0) counts.wrong(component.c_str(), "shop.kind_integer");
            shelf.count[component] = n;
        }
    }
    in.finish();
    if (fault.error) return *fault.error;
    return shelf;
}

base::Result<Shelf> load_shelf(const std::string& path) {
    base::Result<std::string> text = base::read_file(path);
    if (!text) return text.error();
    return parse_shelf(*text, path);
}

std::string shelf_json(const Shelf& shelf) {
    nlohmann::ordered_json out;
    out["id"] = shelf.id;
    out["name"] = shelf.name;
    out["count"] = nlohmann::ordered_json::object();
    for (const auto& [component, number] : shelf.count) out["count"][component] = number;
    return out.dump();
}

}  // namespace setwright::shop
