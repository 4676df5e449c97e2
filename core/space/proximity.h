#pragma once

#include <memory>
#include <optional>

#include "core/space/mesh.h"

namespace setwright::space {

/// A mesh made ready for distance queries (in its own frame); immutable, shared by copies, usable from several threads.
class ProximityBody {
  public:
    explicit ProximityBody(const Mesh& mesh);
    const Aabb& box() const { return box_; }

    struct Impl;
    const Impl& impl() const { return *impl_; }

  private:
    std::shared_ptr<const Impl> impl_;
    Aabb box_;
};

struct Separation {
    /// 0 where the bodies touch or overlap.
    double distance_mm = 0;
    /// Surfaces cross, or one body swallows the other whole. Bodies that just touch (within float noise) may say
    /// either.
    bool overlap = false;
    /// Nearest points in the outer frame; where they overlap, a point of the overlap in both.
    Vec3 on_a = Vec3::Zero();
    Vec3 on_b = Vec3::Zero();
};

/// Distance of a (at X_TA) and b (at X_TB). None where it is beyond `cutoff_mm`. Accuracy: that of the meshes.
std::optional<Separation> separation(const ProximityBody& a, const Pose& X_TA, const ProximityBody& b, const Pose& X_TB,
                                     double cutoff_mm);

}  // namespace setwright::space
