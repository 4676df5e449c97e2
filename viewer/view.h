#pragma once

#include <QColor>
#include <QImage>
#include <QPointF>
#include <QWidget>

#include "viewer/overlay.h"
#include "viewer/pick.h"

namespace setwright::viewer {

/// From where one looks. `corner`: from the south-east, above (solid view; the plan then looks from above).
enum class Direction { above, south, east, north, west, below, corner };

/// Colours of a view; picked to stay apart for colour-blind eyes, light and dark.
struct Palette {
    QColor ground, table, table_edge, hole, hole_blocked, label;
    QColor piece, piece_edge, piece_by_hand, placement, placement_edge, locked;
    QColor selected, hovered, good, warn, bad, plain;
    static Palette light();
    static Palette dark();
};

/// One of the two ways to see the stage. Left button is the tool's; middle or right drag pans (with Shift or the right
/// button turns, where a view can turn), the wheel zooms about the pointer. Pixels are device-independent ones of this
/// widget.
class View : public QWidget {
    Q_OBJECT
  public:
    explicit View(QWidget* parent = nullptr);

    /// Draws this scene from now on; only what differs is made anew.
    virtual void show_scene(const Scene& scene) = 0;
    virtual void show_overlay(const Overlay& overlay) = 0;
    virtual void set_palette(const Palette& palette) = 0;
    virtual void look(Direction from) = 0;
    virtual Direction looking() const = 0;
    /// All of the scene and of the table, or `box_T` where it is not empty.
    virtual void fit(const space::Aabb& box_T = {}) = 0;
    virtual void zoom(double factor, const QPointF& about) = 0;

    virtual Ray ray(const QPointF& at) const = 0;
    virtual QPointF to_widget(const space::Vec3& point_T) const = 0;
    /// At the depth of the table's middle.
    virtual double mm_per_pixel() const = 0;
    /// What is on the screen, also where QWidget::grab() cannot see it.
    virtual QImage picture() const = 0;

  Q_SIGNALS:
    void pressed(const QPointF& at, Qt::KeyboardModifiers modifiers);
    void moved(const QPointF& at, Qt::KeyboardModifiers modifiers);
    void released(const QPointF& at, Qt::KeyboardModifiers modifiers);
    void double_clicked(const QPointF& at, Qt::KeyboardModifiers modifiers);
    void left();
    /// The camera moved.
    void camera_moved();

  protected:
    virtual void pan(const QPointF& by) = 0;
    /// By pixels; nothing where the view cannot turn.
    virtual void turn(const QPointF& by) = 0;

    void mousePressEvent(QMouseEvent* event) override;
    void mouseMoveEvent(QMouseEvent* event) override;
    void mouseReleaseEvent(QMouseEvent* event) override;
    void mouseDoubleClickEvent(QMouseEvent* event) override;
    void wheelEvent(QWheelEvent* event) override;
    void leaveEvent(QEvent* event) override;

  private:
    enum class Grip { none, tool, pan, turn } grip_ = Grip::none;
    QPointF last_;
};

}  // namespace setwright::viewer
