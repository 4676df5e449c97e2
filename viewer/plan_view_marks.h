#pragma once

#include <QPainter>
#include <functional>

#include "viewer/plan_view_body.h"
#include "viewer/plan_view_camera.h"

/// Marks of the plan that keep their size on the screen: text, balloons, arrows, notes.
namespace setwright::viewer {

/// Where and with what the plan is drawn, in pixels of the widget.
struct PlanPaper {
    QPainter& painter;
    const PlanCamera& camera;
    const Palette& palette;
    /// Inside the rulers.
    QRectF inside;
    /// Of the mark that shows north and east; empty where there is none.
    QRectF compass;
    std::function<const FlatBody&(const Item&)> body;

    QPointF at(const space::Vec3& p_T) const;
    /// From the view plane of a body whose pose is X to the widget.
    QTransform of(const space::Pose& X_TS) const;
    QColor colour(Tone tone) const;
};

/// Text that stays readable over anything: a rim of the ground's colour around it.
void write(QPainter& painter, const QPointF& middle, const QString& text, const QColor& ink, const QColor& halo);
QSizeF text_size(const QPainter& painter, const QString& text);

void draw_overlay(const PlanPaper& paper, const Scene& scene, const Overlay& overlay);

}  // namespace setwright::viewer
