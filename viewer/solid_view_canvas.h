#pragma once

#include <QSize>
#include <memory>

#include "viewer/solid_view_camera.h"
#include "viewer/solid_view_labels.h"

namespace setwright::viewer {

/// The kernel's drawing of a scene into one native window; the kernel's words stay inside. Everything here throws
/// std::runtime_error where the kernel or OpenGL fails.
class SolidCanvas {
  public:
    /// X11 with a display that has GLX.
    static bool possible();

    /// `window` is an X11 window that exists.
    SolidCanvas(WId window, const QSize& device_pixels, double pixel_ratio);
    ~SolidCanvas();

    /// Everything is drawn anew after this: show_scene() and show_overlay() must follow.
    void set_palette(const Palette& palette);
    void show_scene(const Scene& scene);
    /// `scene` is the one shown.
    void show_overlay(const Scene& scene, const Overlay& overlay);
    void resize(const QSize& device_pixels);

    void draw(const SolidCamera& camera, const QFont& font);
    QImage picture(const SolidCamera& camera, const QFont& font);

  private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace setwright::viewer
