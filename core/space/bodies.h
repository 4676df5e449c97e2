#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/progress.h"
#include "core/base/result.h"
#include "core/space/solid.h"

namespace setwright::space {

/// One solid as the file has it. Instances share one Solid.
struct Body {
    /// Names from the assembly's root down to the part, empty ones left out.
    std::vector<std::string> path;
    std::string name;
    /// Index into Bodies::solids.
    std::uint32_t solid = 0;
    /// Pose of the solid's own frame D in the weldment as modelled.
    Pose X_MD;
    /// The file placed it through a mirror: `solid` then is the mirrored shape.
    bool mirrored = false;
    /// Red, green, blue, 0 to 1.
    std::optional<std::array<float, 3>> colour;
};

/// What came out of a STEP file. All in mm.
struct Bodies {
    std::vector<std::shared_ptr<const Solid>> solids;
    std::vector<Brep> breps;
    std::vector<Body> bodies;
    /// Length unit named in the file ("mm", "inch", "cm", "m", "ft"), "" where none is.
    std::string file_unit;
    std::string schema;
    /// Solids that the text defines; where fewer were read, the names of the missing ones ("" = without a name).
    int solids_in_text = 0;
    std::vector<std::string> lost;
    /// Faces and shells that belong to no solid.
    int loose_faces = 0;
    /// What the reader healed or could not use; sentences for doubts.
    std::vector<base::Text> remarks;
};

/// The helper's answer on the wire: length-prefixed, checksummed records. decode() trusts nothing.
std::string encode(const Bodies& bodies);
base::Result<Bodies> decode(std::string_view wire);

/// Reads STEP text through the helper program (design: own process, limits, killed on cancel or after `wall_seconds`).
/// The error says in one sentence what is wrong with the file and what to do.
base::Result<Bodies> read_step(const std::string& path, const base::Progress& job = {}, int wall_seconds = 300);

}  // namespace setwright::space
