#pragma once

#include <cstdint>
#include <vector>

#include "core/space/solid.h"

namespace setwright::space {

/// A body to be drawn; `tag` comes back with its lines.
struct ProjectedBody {
    const Brep* brep = nullptr;
    Pose X_TD;
    std::uint32_t tag = 0;
};

struct ProjectedLine {
    std::uint32_t tag = 0;
    bool visible = true;
    /// In the view's plane: x right, y up, mm of the real thing.
    std::vector<Vec2> points;
};

/// View frame X_TV: looks along -z of V, x right, y up. Polygonal hidden lines at mesh accuracy: sharp edges and
/// outlines only, segments chained, coincident ones given once. Order is fixed by tag, then geometry.
base::Result<std::vector<ProjectedLine>> project(const std::vector<ProjectedBody>& bodies, const Pose& X_TV,
                                                 bool with_hidden);

}  // namespace setwright::space
