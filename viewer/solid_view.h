#pragma once

#include <memory>

#include "viewer/view.h"

namespace setwright::viewer {

/// 3-D by the kernel's viewer in a native child window; GLX needed, software OpenGL will do. The kernel only draws: the
/// pointer picks on the scene itself.
class SolidView : public View {
    Q_OBJECT
  public:
    /// True where this platform can show it at all (X11 with a display; not offscreen).
    static bool available();

    explicit SolidView(QWidget* parent = nullptr);
    ~SolidView() override;

    void show_scene(const Scene& scene) override;
    void show_overlay(const Overlay& overlay) override;
    void set_palette(const Palette& palette) override;
    void look(Direction from) override;
    Direction looking() const override;
    void fit(const space::Aabb& box_T = {}) override;
    void zoom(double factor, const QPointF& about) override;
    Ray ray(const QPointF& at) const override;
    QPointF to_widget(const space::Vec3& point_T) const override;
    double mm_per_pixel() const override;
    QImage picture() const override;

    QPaintEngine* paintEngine() const override { return nullptr; }

  Q_SIGNALS:
    /// OpenGL could not be had after all: use the plan.
    void failed(const QString& reason);

  protected:
    void pan(const QPointF& by) override;
    void turn(const QPointF& by) override;
    bool event(QEvent* event) override;
    void paintEvent(QPaintEvent* event) override;
    void resizeEvent(QResizeEvent* event) override;
    void showEvent(QShowEvent* event) override;

  private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace setwright::viewer
