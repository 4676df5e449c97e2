#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "core/space/shape.h"

namespace setwright::space {

/// Triangles, counter-clockwise seen from outside.
struct Mesh {
    std::vector<Vec3> points;
    std::vector<std::array<std::uint32_t, 3>> triangles;

    bool empty() const { return triangles.empty(); }
    Aabb box() const;
    /// Adds `other`, given in a frame whose pose here is X.
    void add(const Mesh& other, const Pose& X = {});
    double volume_mm3() const;
};

Mesh box_mesh(const Vec3& min, const Vec3& max);
/// Regular prism around the true cylinder (corners outside, mid-sides on the radius): never thinner than the cylinder.
Mesh cylinder_mesh(const Vec3& from, const Vec3& to, double radius_mm, int sides = 24);
/// The counter-clockwise outline (in the local xy plane of X) from local z0 to z1.
Mesh prism_mesh(const Polygon2& outline, double z0_mm, double z1_mm, const Pose& X = {});

}  // namespace setwright::space
