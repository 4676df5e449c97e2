#include "core/space/pose.h"

#include <cmath>

#include "core/base/bug.h"

namespace setwright::space {

namespace {

Mat3 rotation_about(int axis, double c, double s) {
    Mat3 r = Mat3::Identity();
    const int u = (axis + 1) % 3;
    const int v = (axis + 2) % 3;
    r(u, u) = c;
    r(u, v) = -s;
    r(v, u) = s;
    r(v, v) = c;
    return r;
}

}  // namespace

Pose Pose::turn_x(base::Angle a) {
    return {rotation_about(0, base::cos(a), base::sin(a)), Vec3::Zero()};
}
Pose Pose::turn_y(base::Angle a) {
    return {rotation_about(1, base::cos(a), base::sin(a)), Vec3::Zero()};
}
Pose Pose::turn_z(base::Angle a) {
    return {rotation_about(2, base::cos(a), base::sin(a)), Vec3::Zero()};
}

Pose Pose::facing(double x, double y) {
    const double length = std::hypot(x, y);
    SETWRIGHT_ASSERT(length > 0, "a facing needs a direction");
    return {rotation_about(2, x / length, y / length), Vec3::Zero()};
}

Pose Pose::from_axes(const Vec3& origin, const Vec3& z, const Vec3& x_hint) {
    const Vec3 w = z.normalized();
    const Vec3 across = x_hint - w * w.dot(x_hint);
    SETWRIGHT_ASSERT(across.norm() > 1e-9, "the x hint is parallel to z");
    const Vec3 u = across.normalized();
    Mat3 r;
    r << u, w.cross(u), w;
    return {r, origin};
}

std::optional<Pose> Pose::from_row_major(std::span<const double> n) {
    if (n.size() != 16) return std::nullopt;
    for (const double x : n)
        if (!std::isfinite(x)) return std::nullopt;
    Mat3 r;
    r << n[0], n[1], n[2], n[4], n[5], n[6], n[8], n[9], n[10];
    constexpr double rigid = 1e-6;
    if ((r * r.transpose() - Mat3::Identity()).cwiseAbs().maxCoeff() > rigid || r.determinant() < 0)
        return std::nullopt;
    if (n[12] != 0 || n[13] != 0 || n[14] != 0 || n[15] != 1) return std::nullopt;
    return Pose(r, Vec3(n[3], n[7], n[11]));
}

std::array<double, 16> Pose::row_major() const {
    std::array<double, 16> n{};
    for (int row = 0; row < 3; ++row) {
        for (int col = 0; col < 3; ++col) n[static_cast<std::size_t>(row * 4 + col)] = rotation_(row, col);
        n[static_cast<std::size_t>(row * 4 + 3)] = position_(row);
    }
    n[15] = 1;
    return n;
}

double pose_difference_mm(const Pose& a, const Pose& b, double radius_mm) {
    const double turn = (a.rotation() - b.rotation()).norm();
    return (a.position() - b.position()).norm() + radius_mm * turn;
}

}  // namespace setwright::space
