#include "core/shop/catalogue.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "core/base/file.h"
#include "core/base/limits.h"
#include "core/shop/definition.h"

namespace setwright::shop {

using base::Json;
using base::JsonFields;
using base::JsonValue;

namespace {

constexpr double steel_kg_per_mm3 = 7850e-9;

/// Lengths of a template: in the file's nominal unit and without "_mm"; the definition has them in mm and with it.
const std::set<std::string>& length_keys() {
    static const std::set<std::string> keys{"min",
                                            "max",
                                            "from",
                                            "to",
                                            "diameter",
                                            "outline",
                                            "y0",
                                            "y1",
                                            "z0",
                                            "z1",
                                            "point",
                                            "width",
                                            "top",
                                            "hole",
                                            "pitch",
                                            "footprint",
                                            "bolts_at",
                                            "step",
                                            "origin",
                                            "reach",
                                            "pitch_right",
                                            "pitch_up",
                                            "stroke",
                                            "thickness",
                                            "key_room_diameter",
                                            "key_room_height",
                                            "overall_height",
                                            "at"};
    return keys;
}

bool is_name(char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_';
}

/// One row's values by column name.
using Row = std::map<std::string, Json>;

/// Puts a row into a template: a text that is "$column" becomes the value, inside a text it becomes the value's text.
/// Gives the name of a column that is not there.
std::optional<std::string> fill(Json& value, const Row& row) {
    if (value.is_structured()) {
        for (Json& item : value) {
            if (auto missing = fill(item, row)) return missing;
        }
        return {};
    }
    if (!value.is_string()) return {};
    const auto text = value.get<std::string>();
    std::string out;
    for (std::size_t at = 0; at < text.size();) {
        if (text[at] != '$') {
            out += text[at++];
            continue;
        }
        std::size_t end = at + 1;
        while (end < text.size() && is_name(text[end])) ++end;
        const std::string name = text.substr(at + 1, end - at - 1);
        const auto column = row.find(name);
        if (column == row.end()) return name;
        if (at == 0 && end == text.size()) {
            value = column->second;
            return {};
        }
        out += column->second.is_string() ? column->second.get<std::string>() : column->second.dump();
        at = end;
    }
    value = out;
    return {};
}

void scale(Json& value, double factor) {
    if (value.is_structured()) {
        for (Json& item : value) scale(item, factor);
    } else if (value.is_number()) {
        // Every 1/64 in is a whole number of 1e-6 mm, so the rounding takes away nothing but the noise of the product.
        value = base::round_json(value.get<double>() * factor);
    }
}

Json in_mm(const Json& value, double factor) {
    if (value.is_array()) {
        Json out = Json::array();
        for (const Json& item : value) out.push_back(in_mm(item, factor));
        return out;
    }
    if (!value.is_object()) return value;
    Json out = Json::object();
    for (const auto& [name, item] : value.items()) {
        if (length_keys().count(name) != 0) {
            Json length = item;
            scale(length, factor);
            out[name + "_mm"] = std::move(length);
        } else {
            out[name] = in_mm(item, factor);
        }
    }
    return out;
}

/// One family file: its rows put into its template, in mm.
struct FamilyFile {
    std::string where;
    /// Of a plate set; "" for a family of components.
    std::string plate_set;
    std::string family;
    std::string nominal;
    std::vector<Json> items;
};

/// Rows of one file with their values by column name, and the template they go into.
struct FamilyTable {
    base::LengthUnit unit = base::LengthUnit::mm;
    const Json* body = nullptr;
    std::vector<Row> rows;
};

FamilyTable read_family_table(const JsonValue& value, FamilyFile& file) {
    JsonFields in = value.fields();
    FamilyTable table;
    file.plate_set = text_or(in["plate_set"], "");
    if (file.plate_set.empty()) file.family = in["family"].text();
    text_or(in["system"], "");
    text_or(in["note"], "");
    table.unit = read_unit(in["nominal"]);
    file.nominal = key(table.unit);
    const JsonValue body = in["template"];
    if (!body.is_object()) body.wrong("json.object");
    table.body = body.raw();
    std::vector<std::string> columns;
    for (const JsonValue& column : list(in["columns"])) columns.push_back(column.text());
    for (const JsonValue& cells : list(in["rows"])) {
        if (!cells.raw()->is_array() || cells.raw()->size() != columns.size()) {
            cells.wrong("shop.kind_row");
            break;
        }
        Row row;
        for (std::size_t k = 0; k < columns.size(); ++k) row[columns[k]] = (*cells.raw())[k];
        table.rows.push_back(std::move(row));
    }
    return table;
}

base::Result<FamilyFile> read_family_file(const std::string& path) {
    base::Result<std::string> text = base::read_file(path);
    if (!text) return text.error();
    base::Result<Json> parsed = parse_object(*text, path);
    if (!parsed) return parsed.error();
    base::JsonFaults faults{path, definition_sentences, {}};
    FamilyFile file;
    file.where = path;
    const FamilyTable table = read_family_table(JsonValue(&*parsed, "", faults), file);
    if (faults.first) return *faults.first;
    for (const Row& row : table.rows) {
        Json item = *table.body;
        if (const auto missing = fill(item, row))
            return base::bad_input({"shop.no_column", {{"file", path}, {"column", *missing}}});
        file.items.push_back(in_mm(item, table.unit == base::LengthUnit::inch ? base::mm_per_inch : 1.0));
    }
    return file;
}

void move_by(Json& point, const space::Vec3& by) {
    if (!point.is_array() || point.size() != 3) return;
    for (std::size_t i = 0; i < 3; ++i) {
        if (point[i].is_number())
            point[i] = base::round_json(point[i].get<double>() + by[static_cast<Eigen::Index>(i)]);
    }
}

/// Carries a plate from its own frame (origin on its face, at the mount face) to where the component bolts it on.
/// Malformed entries are left for the component's reader to name.
void carry(Json& plate, const space::Vec3& by, bool moving) {
    for (const char* list : {"body", "faces"}) {
        if (!plate.contains(list) || !plate[list].is_array()) continue;
        for (Json& item : plate[list]) {
            if (!item.is_object()) continue;
            for (const char* point : {"min_mm", "max_mm", "point_mm", "from_mm", "to_mm"}) {
                if (item.contains(point)) move_by(item[point], by);
            }
            if (item.contains("outline_mm") && item["outline_mm"].is_array()) {
                const double along = item.contains("z0_mm") ? by.y() : by.z();
                for (Json& corner : item["outline_mm"]) {
                    if (!corner.is_array() || corner.size() != 2 || !corner[0].is_number() || !corner[1].is_number())
                        continue;
                    corner[0] = base::round_json(corner[0].get<double>() + by.x());
                    corner[1] = base::round_json(corner[1].get<double>() + along);
                }
            }
            for (const auto& [end, delta] :
                 {std::pair("y0_mm", by.y()), {"y1_mm", by.y()}, {"z0_mm", by.z()}, {"z1_mm", by.z()}}) {
                if (item.contains(end) && item[end].is_number())
                    item[end] = base::round_json(item[end].get<double>() + delta);
            }
            if (moving) item["moving"] = true;
        }
    }
}

double round_mass(double kg) {
    return std::round(kg * 1000) / 1000;
}

double steel_mass(const std::vector<BodyPart>& parts) {
    double volume = 0;
    for (const BodyPart& part : parts) volume += volume_mm3(part);
    return round_mass(volume * steel_kg_per_mm3);
}

double top_of(const std::vector<BodyPart>& parts) {
    double top = 0;
    for (const BodyPart& part : parts) {
        switch (part.kind) {
            case BodyPart::Kind::box:
                top = std::max(top, part.max.z());
                break;
            case BodyPart::Kind::cylinder: {
                const space::Vec3 axis = (part.to - part.from).normalized();
                const double rim = part.diameter_mm / 2 * std::hypot(axis.x(), axis.y());
                top = std::max(top, std::max(part.from.z(), part.to.z()) + rim);
                break;
            }
            case BodyPart::Kind::prism:
                if (part.upright)
                    top = std::max(top, part.z1_mm);
                else
                    for (const space::Vec2& corner : part.outline) top = std::max(top, corner.y());
                break;
            case BodyPart::Kind::step:
                break;
        }
    }
    return top;
}

/// What a family file may leave out because it follows from the rest: masses from volumes, the height from the body.
void fill_in(Json& item, const FamilyFile& file) {
    item["family"] = file.family;
    item["nominal"] = file.nominal;
    if (!item.contains("mass_kg")) item["mass_kg"] = -1;
    if (!item.contains("overall_height_mm")) item["overall_height_mm"] = -1;
    if (!item.contains("plates") || !item["plates"].is_array()) return;
    for (Json& plate : item["plates"]) {
        if (plate.is_object() && !plate.contains("mass_kg")) plate["mass_kg"] = -1;
    }
}

/// Which plates a component takes, and where it bolts them on.
struct PlateSet {
    std::string name;
    space::Vec3 at = space::Vec3::Zero();
    bool moving = false;
};

PlateSet read_plate_set(const JsonValue& value) {
    JsonFields in = value.fields();
    return {in["set"].text(), read_point(in["at_mm"]), flag(in["moving"])};
}

/// "V" of the plate "100V"; plain plates have none.
std::string_view kind_of(std::string_view plate) {
    return plate.substr(plate.find_last_of("0123456789") + 1);
}

base::Result<Component> make_component(Json item, const FamilyFile& file,
                                       const std::map<std::string, std::vector<Json>>& plate_sets) {
    if (item.contains("plates") && item["plates"].is_object()) {
        base::JsonFaults faults{file.where, definition_sentences, {}};
        const PlateSet plate_set = read_plate_set(JsonValue(&item["plates"], "template.plates", faults));
        if (faults.first) return *faults.first;
        const auto found = plate_sets.find(plate_set.name);
        if (found == plate_sets.end())
            return base::bad_input({"shop.no_plate_set", {{"file", file.where}, {"set", plate_set.name}}});
        Json plates = Json::array();
        for (Json plate : found->second) {
            carry(plate, plate_set.at, plate_set.moving);
            plates.push_back(std::move(plate));
        }
        item["plates"] = std::move(plates);
    }
    fill_in(item, file);
    base::Result<Component> component = parse_component(item.dump(), file.where);
    if (!component) return component;
    if (component->mass_kg < 0) component->mass_kg = steel_mass(component->body);
    if (component->overall_height_mm < 0) component->overall_height_mm = top_of(component->body);
    for (Plate& plate : component->plates) {
        if (plate.mass_kg < 0) plate.mass_kg = steel_mass(plate.body);
    }
    // Plain ones first, each kind by height: the first is what a stop comes with, the next is the next higher.
    std::stable_sort(component->plates.begin(), component->plates.end(), [](const Plate& a, const Plate& b) {
        return kind_of(a.id) != kind_of(b.id) ? kind_of(a.id) < kind_of(b.id) : a.top_mm < b.top_mm;
    });
    return component;
}

}  // namespace

const Component* Catalogue::find(std::string_view id) const {
    const auto it =
        std::lower_bound(components.begin(), components.end(), id,
                         [](const auto& component, std::string_view wanted) { return component->id < wanted; });
    return it != components.end() && (*it)->id == id ? it->get() : nullptr;
}

std::shared_ptr<const Component> Catalogue::share(std::string_view id) const {
    const auto it =
        std::lower_bound(components.begin(), components.end(), id,
                         [](const auto& component, std::string_view wanted) { return component->id < wanted; });
    return it != components.end() && (*it)->id == id ? *it : nullptr;
}

base::Result<Catalogue> load_catalogue(const std::string& folder) {
    base::Result<std::vector<std::string>> paths = json_files(folder);
    if (!paths) return paths.error();
    std::vector<FamilyFile> families;
    std::map<std::string, std::vector<Json>> plate_sets;
    for (const std::string& path : *paths) {
        base::Result<FamilyFile> file = read_family_file(path);
        if (!file) return file.error();
        if (file->plate_set.empty()) {
            families.push_back(std::move(*file));
        } else {
            std::vector<Json>& set = plate_sets[file->plate_set];
            set.insert(set.end(), file->items.begin(), file->items.end());
        }
    }
    Catalogue catalogue;
    for (const FamilyFile& file : families) {
        for (const Json& item : file.items) {
            base::Result<Component> component = make_component(item, file, plate_sets);
            if (!component) return component.error();
            catalogue.components.push_back(std::make_shared<const Component>(std::move(*component)));
        }
    }
    std::sort(catalogue.components.begin(), catalogue.components.end(),
              [](const auto& a, const auto& b) { return a->id < b->id; });
    const auto twin = std::adjacent_find(catalogue.components.begin(), catalogue.components.end(),
                                         [](const auto& a, const auto& b) { return a->id == b->id; });
    if (twin != catalogue.components.end())
        return base::bad_input({"shop.id_twice", {{"file", folder}, {"id", (*twin)->id}}});
    return catalogue;
}

bool fits(const Component& component, double hole_mm, double pitch_x_mm, double pitch_y_mm) {
    const Mount& mount = component.mount;
    if (mount.kind == MountKind::magnet || mount.kind == MountKind::loose) return true;
    if (std::abs(mount.hole_mm - hole_mm) > base::limits::hole_size_mm) return false;
    if (!mount.second) return true;
    const double reach = mount.second->to_mm + base::limits::hole_fit_mm;
    const int most_cols = static_cast<int>(reach / pitch_x_mm);
    const int most_rows = static_cast<int>(reach / pitch_y_mm);
    for (int col = 0; col <= most_cols; ++col) {
        for (int row = 0; row <= most_rows; ++row) {
            const double distance = std::hypot(col * pitch_x_mm, row * pitch_y_mm);
            if (distance > 0 && distance >= mount.second->from_mm - base::limits::hole_fit_mm && distance <= reach)
                return true;
        }
    }
    return false;
}

}  // namespace setwright::shop
