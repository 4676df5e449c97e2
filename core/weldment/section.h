#pragma once

#include "core/base/text.h"
#include "core/space/solid.h"

namespace setwright::weldment {

enum class SectionKind {
    square_tube,
    rect_tube,
    round_tube,
    round_bar,
    square_bar,
    flat_bar,
    angle,
    channel,
    plate,
    formed,
    other
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

/// A section found in a solid, with the axes it fixes. Directions and points in the solid's own frame.
struct SectionFit {
    Section section;
    /// Along the piece, and across it along the wider side; unit, at right angles.
    space::Vec3 z = space::Vec3::UnitZ();
    space::Vec3 x = space::Vec3::UnitX();
    /// A point of the axis (the middle of the section).
    space::Vec3 centre = space::Vec3::Zero();
    /// Why the section is "other"; empty where it was recognised.
    base::Text reason;
    /// The section holds, but faces beside it (slots, notches, bevels) were not looked into.
    int faces_left = 0;
};

/// `R_MD` turns the solid's frame to M: signs and ties of the axes are decided by M's axes (largest component positive,
/// ties by X, then Y, then Z), so that they do not depend on how the part was drawn.
SectionFit fit_section(const space::Solid& solid, const space::Mat3& R_MD);

}  // namespace setwright::weldment
