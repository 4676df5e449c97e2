#pragma once

#include <QKeyEvent>
#include <QObject>
#include <QPointF>
#include <memory>

#include "app/desk.h"
#include "viewer/overlay.h"
#include "viewer/pick.h"

namespace setwright::app {

/// The pointer as a tool sees it, the same in both views.
struct Pointer {
    viewer::Ray ray;
    viewer::Picked picked;
    QPointF at;
    double mm_per_pixel = 1;
    Qt::KeyboardModifiers modifiers;
};

/// What the left button and the keys do. A tool edits a working copy (Session::try_out) and ends in one commit or none;
/// it knows neither view nor panel.
class Tool : public QObject {
    Q_OBJECT
  public:
    explicit Tool(Desk& desk) : desk_(desk) {}

    /// Name of its action: "select", "place", "lay", "touch".
    virtual QString name() const = 0;
    /// What to do now, one sentence for the message line.
    virtual QString hint() const = 0;
    virtual void press(const Pointer&) {}
    virtual void move(const Pointer&) {}
    virtual void release(const Pointer&) {}
    virtual void double_click(const Pointer&) {}
    /// The pointer left the view.
    virtual void leave() {}
    /// True where the key was its own. Escape: the tool gives up what it was doing; false where it was doing nothing.
    virtual bool key(const QKeyEvent&) { return false; }
    /// The document changed under it: undo, another job.
    virtual void reset() {}
    virtual viewer::Overlay overlay() const { return {}; }
    /// Things the pointer goes through now: what is being dragged.
    virtual bool passes(const viewer::ItemId&) const { return true; }

  Q_SIGNALS:
    void overlay_changed();
    void hint_changed();
    /// Has done its work: the select tool takes over.
    void finished();

  protected:
    Desk& desk() const { return desk_; }

  private:
    Desk& desk_;
};

}  // namespace setwright::app
