#pragma once

#include "core/base/text.h"
#include "core/space/solid.h"

namespace setwright::weldment {

enum class SectionKind {
    square_tube, rect_tube, round_tube, round_bar, square_bar, flat_bar, angle, channel, plate, formed, other
};

/// Stock section; sizes in mm, 0 where they do not apply.
struct Section {
    SectionKind kind = SectionKind::other;
    /// The wider outside size (plate and flat bar: the width), along P's x.
    double width_mm = 0;
    /// The other outside size (plate and flat bar: the thickness), along P's y.
    double depth_mm = 0;
    double wall_mm = 0;
    double diameter_mm = 0;
    /// Outside corner radius; 0 = sharp.
    double corner_radius_mm = 0;
    friend bool operator==(const Section&, const Section&) = default;
};

/// "square_tube", ... as in the JSON contract.
const char* key(SectionKind kind);

}  // namespace setwright::weldment
