#pragma once

#include <Eigen/Dense>
#include <array>
#include <optional>
#include <span>

#include "core/base/units.h"

/// Frames, one letter each: T table, M weldment as modelled, P piece, C component, H host face, K contact, D a solid's
/// own frame in the file it came from, G gun. X_AB is the pose of B in A: X_AB * p_B gives p_A, X_AB * X_BC = X_AC.
namespace setwright::space {

using Vec2 = Eigen::Vector2d;
using Vec3 = Eigen::Vector3d;
using Mat3 = Eigen::Matrix3d;

/// A rigid pose: rotation, then translation in mm. It cannot hold a mirror or a scale.
class Pose {
  public:
    Pose() : rotation_(Mat3::Identity()), position_(Vec3::Zero()) {}
    /// `rotation` is trusted to be a rotation; from_row_major() checks.
    Pose(const Mat3& rotation, const Vec3& position) : rotation_(rotation), position_(position) {}

    static Pose move(const Vec3& by) { return {Mat3::Identity(), by}; }
    static Pose move(double x, double y, double z) { return move(Vec3(x, y, z)); }
    /// Rotations about the frame's own axes, exact at quarter turns.
    static Pose turn_x(base::Angle a);
    static Pose turn_y(base::Angle a);
    static Pose turn_z(base::Angle a);
    /// Turn about z that takes +x to the direction (x, y), exact along the axes. (x, y) must not be null.
    static Pose facing(double x, double y);
    /// The pose whose z axis is `z` and whose x axis is nearest to `x_hint`; both in the outer frame, not parallel.
    static Pose from_axes(const Vec3& origin, const Vec3& z, const Vec3& x_hint);
    /// 16 numbers, row by row, last row 0 0 0 1. None where it is not rigid to 1e-6.
    static std::optional<Pose> from_row_major(std::span<const double> numbers);

    const Mat3& rotation() const { return rotation_; }
    const Vec3& position() const { return position_; }
    std::array<double, 16> row_major() const;

    Vec3 operator*(const Vec3& point) const { return rotation_ * point + position_; }
    Vec3 turn(const Vec3& direction) const { return rotation_ * direction; }
    Pose operator*(const Pose& inner) const {
        return {rotation_ * inner.rotation_, rotation_ * inner.position_ + position_};
    }
    Pose inverse() const { return {rotation_.transpose(), -(rotation_.transpose() * position_)}; }

    friend bool operator==(const Pose& a, const Pose& b) {
        return a.rotation_ == b.rotation_ && a.position_ == b.position_;
    }

  private:
    Mat3 rotation_;
    Vec3 position_;
};

/// Largest distance that any point within `radius_mm` of either origin moves between the two poses.
double pose_difference_mm(const Pose& a, const Pose& b, double radius_mm = 0);

}  // namespace setwright::space
