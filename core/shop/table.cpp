#include "core/shop/table.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <nlohmann/json.hpp>

#include "core/base/file.h"
#include "core/shop/json_reader.h"

namespace setwright::shop {

using nlohmann::json;
using nlohmann::ordered_json;

namespace {

/// Without I and O, which read as 1 and 0.
constexpr std::string_view row_letters = "ABCDEFGHJKLMNPQRSTUVWXYZ";

constexpr std::array<std::pair<TableSide, const char*>, 4> side_names{
    {{TableSide::south, "south"}, {TableSide::east, "east"}, {TableSide::north, "north"}, {TableSide::west, "west"}}};

Hole read_label(JsonReader& in, const char* key) {
    const std::optional<Hole> hole = parse_hole_label(in.text(key));
    if (!hole) in.wrong(key, "shop.kind_hole");
    return hole.value_or(Hole{});
}

}  // namespace

std::string hole_label(Hole hole) {
    if (hole.col < 0 || hole.row < 0) return {};
    const auto base = static_cast<int>(row_letters.size());
    std::string letters;
    for (int n = hole.row + 1; n > 0; n = (n - 1) / base)
        letters.insert(letters.begin(), row_letters[static_cast<std::size_t>((n - 1) % base)]);
    return letters + std::to_string(hole.col + 1);
}

std::optional<Hole> parse_hole_label(std::string_view text) {
    // Enough for any table, and far from overflow.
    constexpr int most_letters = 4;
    int row = 0;
    std::size_t at = 0;
    for (; at < text.size() && std::isalpha(static_cast<unsigned char>(text[at])) != 0; ++at) {
        const auto letter = row_letters.find(static_cast<char>(std::toupper(static_cast<unsigned char>(text[at]))));
        if (letter == std::string_view::npos || at >= most_letters) return {};
        row = row * static_cast<int>(row_letters.size()) + static_cast<int>(letter) + 1;
    }
    const std::string_view digits = text.substr(at);
    if (row == 0 || digits.empty() || digits.front() == '0' || digits.front() == '-') return {};
    int col = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), col);
    if (error != std::errc{} || end != digits.data() + digits.size()) return {};
    return Hole{col - 1, row - 1};
}

bool Table::is_blocked(Hole hole) const {
    return std::find(blocked.begin(), blocked.end(), hole) != blocked.end();
}

base::Result<Table> parse_table(std::string_view text, const std::string& where) {
    base::Result<json> parsed = parse_object(text, where);
    if (!parsed) return parsed.error();
    JsonReader::Fault fault{where, {}};
    JsonReader in(*parsed, "", fault);
    Table table;
    table.id = in.text("id");
    table.name = in.text("name");
    table.nominal = in.unit("nominal");
    table.pitch_x_mm = in.size("pitch_x_mm");
    table.pitch_y_mm = in.size("pitch_y_mm");
    table.hole_mm = in.size("hole_mm");
    table.cols = in.count("cols");
    table.rows = in.count("rows");
    if (table.cols < 1) in.wrong("cols", "shop.kind_size");
    if (table.rows < 1) in.wrong("rows", "shop.kind_size");
    table.margin_west_mm = in.number("margin_west_mm");
    table.margin_south_mm = in.number("margin_south_mm");
    table.length_mm = in.size("length_mm");
    table.width_mm = in.size("width_mm");
    table.thickness_mm = in.size("thickness_mm");
    table.top_height_mm = in.size("top_height_mm");
    const json& walkable = in.list("walkable");
    for (std::size_t i = 0; i < walkable.size(); ++i) {
        const auto* const side = std::find_if(side_names.begin(), side_names.end(), [&](const auto& named) {
            return walkable[i].is_string() && walkable[i].get<std::string>() == named.second;
        });
        if (side == side_names.end()) {
            fault.wrong(in.item_path("walkable", i), "shop.kind_side");
            break;
        }
        table.walkable.push_back(side->first);
    }
    const json& blocked = in.list("blocked");
    for (std::size_t i = 0; i < blocked.size(); ++i) {
        const auto hole =
            blocked[i].is_string() ? parse_hole_label(blocked[i].get<std::string>()) : std::optional<Hole>{};
        if (!hole || !table.has(*hole)) fault.wrong(in.item_path("blocked", i), "shop.kind_hole");
        table.blocked.push_back(hole.value_or(Hole{}));
    }
    const json& deviations = in.list("deviations");
    for (std::size_t i = 0; i < deviations.size(); ++i) {
        JsonReader item(deviations[i], in.item_path("deviations", i), fault);
        table.deviations.push_back({read_label(item, "hole"), item.number("dx_mm"), item.number("dy_mm")});
        item.finish();
    }
    const json& joined = in.list("joined");
    for (std::size_t i = 0; i < joined.size(); ++i) {
        JsonReader item(joined[i], in.item_path("joined", i), fault);
        table.joined.push_back({item.text("table"), {item.count("col"), item.count("row")}});
        item.finish();
    }
    in.finish();
    if (fault.error) return *fault.error;
    return table;
}

std::string table_json(const Table& table) {
    ordered_json out;
    out["id"] = table.id;
    out["name"] = table.name;
    out["nominal"] = key(table.nominal);
    out["pitch_x_mm"] = table.pitch_x_mm;
    out["pitch_y_mm"] = table.pitch_y_mm;
    out["hole_mm"] = table.hole_mm;
    out["cols"] = table.cols;
    out["rows"] = table.rows;
    out["margin_west_mm"] = table.margin_west_mm;
    out["margin_south_mm"] = table.margin_south_mm;
    out["length_mm"] = table.length_mm;
    out["width_mm"] = table.width_mm;
    out["thickness_mm"] = table.thickness_mm;
    out["top_height_mm"] = table.top_height_mm;
    out["walkable"] = ordered_json::array();
    for (const TableSide side : table.walkable) {
        for (const auto& [named, name] : side_names) {
            if (named == side) out["walkable"].push_back(name);
        }
    }
    out["blocked"] = ordered_json::array();
    for (const Hole hole : table.blocked) out["blocked"].push_back(hole_label(hole));
    out["deviations"] = ordered_json::array();
    for (const Table::Deviation& d : table.deviations) {
        out["deviations"].push_back({{"hole", hole_label(d.hole)}, {"dx_mm", d.dx_mm}, {"dy_mm", d.dy_mm}});
    }
    out["joined"] = ordered_json::array();
    for (const Table::Joined& j : table.joined) {
        out["joined"].push_back({{"table", j.table}, {"col", j.at.col}, {"row", j.at.row}});
    }
    return out.dump();
}

base::Result<std::vector<Table>> load_tables(const std::string& folder) {
    base::Result<std::vector<std::string>> files = json_files(folder);
    if (!files) return files.error();
    std::vector<Table> tables;
    for (const std::string& file : *files) {
        base::Result<std::string> text = base::read_file(file);
        if (!text) return text.error();
        base::Result<Table> table = parse_table(*text, file);
        if (!table) return table.error();
        tables.push_back(std::move(*table));
    }
    std::sort(tables.begin(), tables.end(), [](const Table& a, const Table& b) { return a.id < b.id; });
    const auto twin =
        std::adjacent_find(tables.begin(), tables.end(), [](const Table& a, const Table& b) { return a.id == b.id; });
    if (twin != tables.end()) return base::bad_input({"shop.id_twice", {{"file", folder}, {"id", twin->id}}});
    return tables;
}

}  // namespace setwright::shop
