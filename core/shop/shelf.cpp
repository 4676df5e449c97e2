#include "core/shop/shelf.h"

#include "core/base/file.h"
#include "core/shop/definition.h"

namespace setwright::shop {

int Shelf::have(const std::string& component) const {
    const auto it = count.find(component);
    return it == count.end() ? 0 : it->second;
}

namespace {

Shelf read_shelf(const base::JsonValue& value) {
    base::JsonFields in = value.fields();
    Shelf shelf;
    shelf.id = in["id"].text();
    shelf.name = in["name"].text();
    for (const auto& [component, number] : in["count"].members()) shelf.count[component] = number.integer(0, 1'000'000);
    return shelf;
}

}  // namespace

base::Result<Shelf> parse_shelf(std::string_view text, const std::string& where) {
    base::Result<base::Json> parsed = parse_object(text, where);
    if (!parsed) return parsed.error();
    base::JsonFaults faults{where, definition_sentences, {}};
    const Shelf shelf = read_shelf(base::JsonValue(&*parsed, "", faults));
    if (faults.first) return *faults.first;
    return shelf;
}

base::Result<Shelf> load_shelf(const std::string& path) {
    base::Result<std::string> text = base::read_file(path);
    if (!text) return text.error();
    return parse_shelf(*text, path);
}

std::string shelf_json(const Shelf& shelf) {
    base::Json out;
    out["id"] = shelf.id;
    out["name"] = shelf.name;
    out["count"] = base::Json::object();
    for (const auto& [component, number] : shelf.count) out["count"][component] = number;
    return out.dump();
}

}  // namespace setwright::shop
