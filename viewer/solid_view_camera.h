#pragma once

#include <QPointF>
#include <QSizeF>

#include "viewer/view.h"

namespace setwright::viewer {

/// The eye of the solid view: square projection, z kept up. Pixels are device-independent ones, from the upper left.
class SolidCamera {
  public:
    void resize(const QSizeF& pixels) { pixels_ = pixels; }
    const QSizeF& pixels() const { return pixels_; }
    double mm_per_pixel() const { return mm_per_pixel_; }

    space::Vec3 right() const { return rotation().col(0); }
    space::Vec3 up() const { return rotation().col(1); }
    /// Towards the eye.
    space::Vec3 back() const { return rotation().col(2); }
    /// Middle of the picture, as deep as the scene's middle.
    const space::Vec3& centre() const { return centre_; }

    void look(Direction from);
    /// `corner` for every slanting look.
    Direction looking() const;
    /// The box filling the picture but for a margin. `box_T` must not be empty.
    void fit(const space::Aabb& box_T);
    /// The point of the scene under `about` stays there.
    void zoom(double factor, const QPointF& about);
    void pan(const QPointF& by);
    /// About the vertical through `pivot_T` and the line across the picture through it; `pivot_T` stays where it is.
    void turn(const QPointF& by, const space::Vec3& pivot_T);

    /// Starts in the picture's plane through centre(), `before_mm` nearer to the eye.
    Ray ray(const QPointF& at, double before_mm) const;
    QPointF to_widget(const space::Vec3& point_T) const;

    friend bool operator==(const SolidCamera&, const SolidCamera&) = default;

  private:
    space::Mat3 rotation() const;

    QSizeF pixels_{640, 480};
    space::Vec3 centre_ = space::Vec3::Zero();
    double mm_per_pixel_ = 1;
    /// About z, from looking out of the south; and down from looking from above, 0 to 180.
    double turned_deg_ = 0;
    double tilted_deg_ = 0;
};

}  // namespace setwright::viewer
