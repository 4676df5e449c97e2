#include "core/shop/table.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>

#include "core/base/file.h"
#include "core/shop/definition.h"

namespace setwright::shop {

using base::Json;
using base::JsonFields;
using base::JsonValue;

namespace {

/// Without I and O, which read as 1 and 0.
constexpr std::string_view row_letters = "ABCDEFGHJKLMNPQRSTUVWXYZ";

/// By the number of the enum value.
constexpr std::array side_names{"south", "east", "north", "west"};

Hole read_label(const JsonValue& value) {
    const std::optional<Hole> hole = parse_hole_label(value.text());
    if (!hole) value.wrong("shop.kind_hole");
    return hole.value_or(Hole{});
}

Table read_table(const JsonValue& value) {
    JsonFields in = value.fields();
    Table table;
    table.id = in["id"].text();
    table.name = in["name"].text();
    table.nominal = read_unit(in["nominal"]);
    table.pitch_x_mm = read_size(in["pitch_x_mm"]);
    table.pitch_y_mm = read_size(in["pitch_y_mm"]);
    table.hole_mm = read_size(in["hole_mm"]);
    table.cols = read_count_from_one(in["cols"]);
    table.rows = read_count_from_one(in["rows"]);
    table.margin_west_mm = in["margin_west_mm"].number();
    table.margin_south_mm = in["margin_south_mm"].number();
    table.length_mm = read_size(in["length_mm"]);
    table.width_mm = read_size(in["width_mm"]);
    table.thickness_mm = read_size(in["thickness_mm"]);
    table.top_height_mm = read_size(in["top_height_mm"]);
    for (const JsonValue& item : list(in["walkable"])) table.walkable.push_back(item.word<TableSide>(side_names));
    for (const JsonValue& item : list(in["blocked"])) {
        table.blocked.push_back(read_label(item));
        if (!table.has(table.blocked.back())) item.wrong("shop.kind_hole");
    }
    for (const JsonValue& value : list(in["deviations"])) {
        JsonFields item = value.fields();
        table.deviations.push_back({read_label(item["hole"]), item["dx_mm"].number(), item["dy_mm"].number()});
    }
    for (const JsonValue& value : list(in["joined"])) {
        JsonFields item = value.fields();
        table.joined.push_back({item["table"].text(), {read_count(item["col"]), read_count(item["row"])}});
    }
    return table;
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
    base::Result<Json> parsed = parse_object(text, where);
    if (!parsed) return parsed.error();
    base::JsonFaults faults{where, definition_sentences, {}};
    const Table table = read_table(JsonValue(&*parsed, "", faults));
    if (faults.first) return *faults.first;
    return table;
}

std::string table_json(const Table& table) {
    Json out;
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
    out["walkable"] = Json::array();
    for (const TableSide side : table.walkable) out["walkable"].push_back(side_names[static_cast<std::size_t>(side)]);
    out["blocked"] = Json::array();
    for (const Hole hole : table.blocked) out["blocked"].push_back(hole_label(hole));
    out["deviations"] = Json::array();
    for (const Table::Deviation& d : table.deviations) {
        out["deviations"].push_back({{"hole", hole_label(d.hole)}, {"dx_mm", d.dx_mm}, {"dy_mm", d.dy_mm}});
    }
    out["joined"] = Json::array();
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
