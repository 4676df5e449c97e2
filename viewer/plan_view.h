#pragma once

#include <memory>

#include "viewer/view.h"

namespace setwright::viewer {

/// 2-D with QPainter, square on from above or from a side; needs no OpenGL, runs on the offscreen platform.
class PlanView : public View {
    Q_OBJECT
  public:
    explicit PlanView(QWidget* parent = nullptr);
    ~PlanView() override;

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

  protected:
    void pan(const QPointF& by) override;
    void turn(const QPointF& by) override;
    void paintEvent(QPaintEvent* event) override;
    void resizeEvent(QResizeEvent* event) override;
    void changeEvent(QEvent* event) override;

  private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace setwright::viewer
