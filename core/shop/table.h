#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/result.h"
#include "core/space/pose.h"

namespace setwright::shop {

/// A hole counted from A1 at the lower left: column along x, row along y, from 0. May lie off the table (overhang).
struct Hole {
    int col = 0;
    int row = 0;
    friend auto operator<=>(const Hole&, const Hole&) = default;
};

/// "A1", "K14", "AA3": row letters without I and O, then AA, AB, …; columns from 1.
std::string hole_label(Hole hole);
/// None where the text is no label. Case does not matter.
std::optional<Hole> parse_hole_label(std::string_view text);

enum class TableSide { south, east, north, west };

/// A hole-grid table. T: origin at the centre of hole A1 on the top, x east along the numbers, y north along the
/// letters.
struct Table {
    std::string id;
    std::string name;
    /// "mm" or "in": how its sizes are named.
    base::LengthUnit nominal = base::LengthUnit::mm;
    double pitch_x_mm = 0;
    double pitch_y_mm = 0;
    double hole_mm = 0;
    int cols = 0;
    int rows = 0;
    /// From A1's centre to the plate's west and south edge.
    double margin_west_mm = 0;
    double margin_south_mm = 0;
    double length_mm = 0;
    double width_mm = 0;
    double thickness_mm = 0;
    double top_height_mm = 0;
    /// Sides along which a person can walk.
    std::vector<TableSide> walkable;
    std::vector<Hole> blocked;
    /// Measured deviation of single holes from nominal, mm.
    struct Deviation {
        Hole hole;
        double dx_mm = 0;
        double dy_mm = 0;
        friend bool operator==(const Deviation&, const Deviation&) = default;
    };
    std::vector<Deviation> deviations;
    /// Tables bolted on, by their id and whole-pitch offset of their A1.
    struct Joined {
        std::string table;
        Hole at;
        friend bool operator==(const Joined&, const Joined&) = default;
    };
    std::vector<Joined> joined;

    bool has(Hole hole) const { return hole.col >= 0 && hole.row >= 0 && hole.col < cols && hole.row < rows; }
    bool is_blocked(Hole hole) const;
    friend bool operator==(const Table&, const Table&) = default;
};

/// All tables of a folder, sorted by id; faulty files give an error with file and key.
base::Result<std::vector<Table>> load_tables(const std::string& folder);
base::Result<Table> parse_table(std::string_view json, const std::string& where);
/// Deterministic JSON, for the job file.
std::string table_json(const Table& table);

}  // namespace setwright::shop
