#pragma once

#include <QPointer>
#include <QTimer>
#include <QWidget>
#include <memory>
#include <set>

#include "app/tools/tool.h"
#include "viewer/view.h"

class QStackedLayout;

namespace setwright::app {

class PlaceTool;

/// What a drag from the shelf carries: the id of the component as text.
inline constexpr const char* component_mime = "application/x-setwright-component";

/// The middle of the window: a view of the stage, the tool in hand, and what lies over the scene. The only place where
/// pixels become pointers.
class Workbench : public QWidget {
    Q_OBJECT
  public:
    /// `plan_only`: never tries OpenGL.
    Workbench(Desk& desk, bool plan_only, QWidget* parent = nullptr);
    ~Workbench() override;

    viewer::View& view() const { return *view_; }
    bool can_show_solid() const;
    bool shows_plan() const;
    void show_plan(bool plan);
    void use_theme(Theme theme);

    Tool& tool() const { return *tool_; }
    /// Puts the tool in hand away and takes this one; null takes the select tool.
    void take(std::unique_ptr<Tool> tool);

    /// What lies over the scene now.
    viewer::Overlay overlay() const;

    /// Turns the eye to a place and marks it for a while ("this is what the finding is about").
    void point_out(const space::Vec3& at_T, const QString& words);
    /// A component was dropped or dragged over the view from the shelf: pointer events at a place of this widget.
    void drag_from_shelf(std::shared_ptr<const shop::Component> component, const QPointF& at);
    void drop_from_shelf(const QPointF& at);
    void leave_from_shelf();

  Q_SIGNALS:
    void tool_changed();
    void hint_changed();
    void view_changed();
    /// A block was double-clicked: its callout, in the selected panel, is to be typed.
    void wants_callout();

  protected:
    bool event(QEvent* event) override;
    void keyPressEvent(QKeyEvent* event) override;
    void showEvent(QShowEvent* event) override;
    void dragEnterEvent(QDragEnterEvent* event) override;
    void dragMoveEvent(QDragMoveEvent* event) override;
    void dragLeaveEvent(QDragLeaveEvent* event) override;
    void dropEvent(QDropEvent* event) override;

  private:
    /// Arrow keys go the way they point in the picture: seen from the north, right is west.
    QKeyEvent as_seen(const QKeyEvent& event) const;
    Pointer pointer(const QPointF& at, Qt::KeyboardModifiers modifiers) const;
    void listen(viewer::View& view);
    void hold(std::unique_ptr<Tool> tool);
    void pull_scene();
    void fit_once();
    void move_now();
    void show_overlay();
    viewer::Overlay resting_overlay() const;
    void add_block(viewer::Overlay& over, PlacementId block) const;
    void add_piece(viewer::Overlay& over, PieceId piece) const;

    Desk& desk_;
    QStackedLayout* layout_ = nullptr;
    viewer::View* plan_ = nullptr;
    /// Null where there is none, or it failed.
    viewer::View* solid_ = nullptr;
    viewer::View* view_ = nullptr;
    viewer::Scene scene_;
    std::unique_ptr<Tool> tool_;
    /// The tool in hand, while it was dragged here from the shelf.
    QPointer<PlaceTool> from_shelf_;
    viewer::Overlay pointed_out_;
    QTimer pointed_out_until_;
    QTimer overlay_due_;
    /// Only the last position of a burst of moves counts.
    QTimer move_due_;
    std::optional<std::pair<QPointF, Qt::KeyboardModifiers>> moved_;
    /// Views that have shown the whole of this job.
    std::set<const viewer::View*> fitted_;
};

}  // namespace setwright::app
