#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/result.h"
#include "core/space/mesh.h"

namespace setwright::space {

enum class SurfaceKind { plane, cylinder, cone, sphere, torus, spline, other };

/// What a face lies on. A spline that is a plane or cylinder within `exact_face_mm` is described as that, with
/// residual.
struct Surface {
    SurfaceKind kind = SurfaceKind::other;
    /// plane: a point of it; cylinder, cone: a point of the axis; sphere, torus: centre.
    Vec3 point = Vec3::Zero();
    /// plane: unit normal out of the material; cylinder, cone, torus: unit axis.
    Vec3 axis = Vec3::UnitZ();
    double radius_mm = 0;
    double minor_radius_mm = 0;
    double half_angle_deg = 0;
    /// Curved kinds: true where the material is on the inner side (an outside), false for a hole.
    bool outside = true;
    /// Largest distance of the face from the surface described.
    double residual_mm = 0;
};

enum class CurveKind { line, circle, other };
/// Angle between two faces over their edge: convex = a corner sticking out, smooth = tangent.
enum class Convexity { convex, concave, smooth, open };

struct Edge {
    CurveKind kind = CurveKind::other;
    /// Two points for a line, else within the mesh deflection.
    std::vector<Vec3> polyline;
    double length_mm = 0;
    /// Faces on both sides; -1 where there is none, both the same for the seam of a closed face.
    int face_a = -1;
    int face_b = -1;
    Convexity convexity = Convexity::open;
};

struct Loop {
    bool outer = false;
    std::vector<std::uint32_t> edges;
    /// Closed (last point not repeated), material on the left seen from outside.
    std::vector<Vec3> polyline;
};

struct Face {
    Surface surface;
    double area_mm2 = 0;
    Vec3 centroid = Vec3::Zero();
    Aabb box;
    std::vector<Loop> loops;
    /// Its triangles in Solid::mesh.
    std::uint32_t first_triangle = 0;
    std::uint32_t triangle_count = 0;
};

/// A solid's boundary without the CAD kernel. All in one frame, said by whoever holds it.
struct Solid {
    std::vector<Face> faces;
    std::vector<Edge> edges;
    Mesh mesh;
    Aabb box;
    double volume_mm3 = 0;
    double area_mm2 = 0;
    Vec3 centroid = Vec3::Zero();
    /// About the centroid, density 1, mm^5.
    Mat3 inertia = Mat3::Zero();
    /// False where the kernel's own check of the boundary failed.
    bool valid = true;
};

Solid moved(const Solid& solid, const Pose& X);

/// The kernel's exact boundary, opaque and immutable. Empty by default.
class Brep {
  public:
    Brep() = default;
    bool empty() const { return !impl_; }

    static Brep box(const Vec3& min, const Vec3& max);
    static Brep cylinder(const Vec3& from, const Vec3& to, double radius_mm);
    /// Counter-clockwise outline and clockwise holes in the local xy plane of X, from local z0 to z1.
    static base::Result<Brep> prism(const Polygon2& outline, const std::vector<Polygon2>& holes, double z0_mm,
                                    double z1_mm, const Pose& X = {});
    static base::Result<Brep> cut(const Brep& from, const Brep& what);
    /// Several bodies as one.
    static Brep together(const std::vector<Brep>& parts);
    Brep moved(const Pose& X) const;
    /// Mirrored across the plane through the origin with this normal: the only way to the other hand.
    base::Result<Brep> mirrored(const Vec3& normal) const;

    /// The kernel's binary form; from_bytes refuses what it cannot read.
    std::string bytes() const;
    static base::Result<Brep> from_bytes(std::string_view bytes);

    struct Impl;
    const std::shared_ptr<const Impl>& impl() const { return impl_; }
    explicit Brep(std::shared_ptr<const Impl> impl) : impl_(std::move(impl)) {}

  private:
    std::shared_ptr<const Impl> impl_;
};

/// Meshes (limits.h) and describes one solid or a compound of them.
base::Result<Solid> describe(const Brep& brep);

/// The kernel's exact distance, slow (about 25 ms a pair): for the worst pair and as a witness in tests.
struct ExactDistance {
    double distance_mm;
    Vec3 on_a, on_b;
};
base::Result<ExactDistance> exact_distance(const Brep& a, const Pose& X_TA, const Brep& b, const Pose& X_TB);
/// Volume shared by both bodies, mm^3.
base::Result<double> common_volume(const Brep& a, const Pose& X_TA, const Brep& b, const Pose& X_TB);

}  // namespace setwright::space
