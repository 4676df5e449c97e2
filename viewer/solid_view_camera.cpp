#include "viewer/solid_view_camera.h"

#include <algorithm>
#include <cmath>

namespace setwright::viewer {

namespace {

constexpr double degrees_per_pixel = 0.4;
/// Closer than a hundredth of a millimetre to a pixel there is nothing left to see, farther than a metre neither.
constexpr double nearest_mm_per_pixel = 0.01, farthest_mm_per_pixel = 1000;

struct Stand {
    Direction from;
    double turned_deg, tilted_deg;
};
constexpr Stand stands[] = {
    {Direction::above, 0, 0},   {Direction::south, 0, 90},  {Direction::east, 90, 90},   {Direction::north, 180, 90},
    {Direction::west, 270, 90}, {Direction::below, 0, 180}, {Direction::corner, 32, 58},
};

}  // namespace

space::Mat3 SolidCamera::rotation() const {
    return (space::Pose::turn_z(base::Angle::deg(turned_deg_)) * space::Pose::turn_x(base::Angle::deg(tilted_deg_)))
        .rotation();
}

void SolidCamera::look(Direction from) {
    for (const Stand& stand : stands) {
        if (stand.from != from) continue;
        turned_deg_ = stand.turned_deg;
        tilted_deg_ = stand.tilted_deg;
    }
}

Direction SolidCamera::looking() const {
    for (const Stand& stand : stands)
        if (stand.turned_deg == turned_deg_ && stand.tilted_deg == tilted_deg_) return stand.from;
    return Direction::corner;
}

void SolidCamera::fit(const space::Aabb& box_T) {
    const space::Mat3 to_picture = rotation().transpose();
    space::Aabb seen;
    for (int corner = 0; corner < 8; ++corner)
        seen.add(to_picture * space::Vec3(corner & 1 ? box_T.max.x() : box_T.min.x(),
                                          corner & 2 ? box_T.max.y() : box_T.min.y(),
                                          corner & 4 ? box_T.max.z() : box_T.min.z()));
    centre_ = rotation() * seen.centre();
    // Room for the letters and numbers beside the table.
    const double wide = std::max(pixels_.width() - 72, 50.0), high = std::max(pixels_.height() - 72, 50.0);
    mm_per_pixel_ = std::clamp(std::max(seen.size().x() / wide, seen.size().y() / high), nearest_mm_per_pixel,
                               farthest_mm_per_pixel);
}

void SolidCamera::zoom(double factor, const QPointF& about) {
    const space::Vec3 held = ray(about, 0).origin_T;
    mm_per_pixel_ = std::clamp(mm_per_pixel_ / factor, nearest_mm_per_pixel, farthest_mm_per_pixel);
    centre_ += held - ray(about, 0).origin_T;
}

void SolidCamera::pan(const QPointF& by) {
    centre_ += (up() * by.y() - right() * by.x()) * mm_per_pixel_;
}

void SolidCamera::turn(const QPointF& by, const space::Vec3& pivot_T) {
    const space::Vec3 seen = rotation().transpose() * (pivot_T - centre_);
    turned_deg_ = std::remainder(turned_deg_ - by.x() * degrees_per_pixel, 360.0);
    tilted_deg_ = std::clamp(tilted_deg_ - by.y() * degrees_per_pixel, 0.0, 180.0);
    centre_ = pivot_T - rotation() * seen;
}

Ray SolidCamera::ray(const QPointF& at, double before_mm) const {
    const double across = (at.x() - pixels_.width() / 2) * mm_per_pixel_;
    const double upward = (pixels_.height() / 2 - at.y()) * mm_per_pixel_;
    return {centre_ + right() * across + up() * upward + back() * before_mm, -back()};
}

QPointF SolidCamera::to_widget(const space::Vec3& point_T) const {
    const space::Vec3 seen = rotation().transpose() * (point_T - centre_);
    return {pixels_.width() / 2 + seen.x() / mm_per_pixel_, pixels_.height() / 2 - seen.y() / mm_per_pixel_};
}

}  // namespace setwright::viewer
