#pragma once

#include <functional>
#include <optional>

#include "viewer/scene.h"

namespace setwright::viewer {

/// From the eye into the picture. In T; `direction` has unit length.
struct Ray {
    space::Vec3 origin_T = space::Vec3::Zero();
    space::Vec3 direction_T = -space::Vec3::UnitZ();
};

/// What the pointer is on.
struct Picked {
    enum class Kind { nothing, table, item } kind = Kind::nothing;
    ItemId item;
    /// Index into piece.solid->faces; -1 on placements.
    int face = -1;
    space::Vec3 point_T = space::Vec3::Zero();
    /// Out of the surface.
    space::Vec3 normal_T = space::Vec3::UnitZ();
    /// The hole of the table nearest to where the ray meets the table's top, if it is on the table; also behind items.
    std::optional<shop::Hole> hole;
    /// Where the ray meets the plane of the table's top; none for rays along it.
    std::optional<space::Vec3> on_table_T;

    const PieceId* piece() const { return kind == Kind::item ? std::get_if<PieceId>(&item) : nullptr; }
    const PlacementId* placement() const { return kind == Kind::item ? std::get_if<PlacementId>(&item) : nullptr; }
};

/// The first thing that the ray meets. `aperture_mm`: a flat face of a piece seen edge-on within this of the ray, at
/// the front, is picked as well and goes before the face beside it, so that upright faces can be picked in a plan.
/// `passes` leaves items out (what is being dragged).
Picked pick(const Scene& scene, const Ray& ray, double aperture_mm = 0,
            const std::function<bool(const ItemId&)>& passes = {});

}  // namespace setwright::viewer
