#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/result.h"

namespace setwright::worker {

/// A solid as the file's text defines it, whatever the kernel makes of it.
struct SolidInText {
    /// Its number in the file; 0 where the line that should name it is damaged.
    std::int64_t entity = 0;
    /// Its own name, else that of its product, else "".
    std::string name;
    /// How often the assembly places it.
    int instances = 1;
};

struct StepText {
    std::string schema;
    /// "mm", "cm", "m", "inch", "ft", "" where none is named.
    std::string unit;
    /// Not all parts are in that unit.
    bool mixed_units = false;
    /// In the order of the file.
    std::vector<SolidInText> solids;
    int tessellated_solids = 0;
    /// Placements whose part or assembly is not in the file.
    int broken_placements = 0;
};

/// Reads what has to be known about a STEP file before the kernel drops half of it in silence. Damage in the data is
/// passed over; the errors are: empty, packed, not STEP, cut off. `path` is only named in them.
base::Result<StepText> scan_step(std::string_view text, const std::string& path);

}  // namespace setwright::worker
