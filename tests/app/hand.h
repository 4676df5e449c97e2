#pragma once

#include <QPoint>
#include <QString>
#include <QWidget>
#include <functional>
#include <memory>

namespace setwright::app {

/// A person at mouse and keyboard. Under X the events go through the server (XTEST), as from a real device; on the
/// offscreen platform they are put into Qt's queue. Every act waits until the window has dealt with it.
class Hand {
  public:
    Hand();
    ~Hand();
    Hand(const Hand&) = delete;
    Hand& operator=(const Hand&) = delete;

    /// Which of the two it is: "xtest" or "queue".
    QString kind() const;

    void move(QWidget& over, const QPointF& at);
    void press(Qt::MouseButton button = Qt::LeftButton);
    void release(Qt::MouseButton button = Qt::LeftButton);
    void click(QWidget& widget, const QPointF& at, Qt::MouseButton button = Qt::LeftButton);
    void click(QWidget& widget) { click(widget, QPointF(widget.rect().center())); }
    void double_click(QWidget& widget, const QPointF& at);
    /// Picks up on one widget and lets go over another while the program is inside its own drag loop.
    void carry(QWidget& from, const QPointF& at, QWidget& to, const QPointF& there);
    /// In steps, as a hand moves.
    void drag(QWidget& widget, const QPointF& from, const QPointF& to, Qt::MouseButton button = Qt::LeftButton,
              int steps = 12);
    void wheel(QWidget& widget, const QPointF& at, int notches);

    void key(int key, Qt::KeyboardModifiers modifiers = Qt::NoModifier);
    /// Into the widget that has the focus.
    void type(const QString& text);
    /// Clicks into a field, selects what is there and types over it.
    void fill(QWidget& field, const QString& text);

    /// Does `acts` when the dialog of this name is in front: to be said before the act that brings it up.
    void answer(const QString& dialog, std::function<void(QWidget& dialog)> acts);
    /// How many answer() still wait for their dialog.
    int unanswered() const { return unanswered_; }

    /// Lets the program work for a while.
    static void wait(int milliseconds);
    /// Until `done` says true; false after `milliseconds`.
    static bool wait_for(const std::function<bool()>& done, int milliseconds = 10000);

  private:
    class Device;
    class Server;
    class Queue;
    std::unique_ptr<Device> device_;
    int unanswered_ = 0;
};

/// The one child with this object name; the test fails where there is none.
template <class Widget>
Widget& find(QWidget& in, const QString& name) {
    auto* found = in.findChild<Widget*>(name);
    if (!found) qFatal("no widget named %s", qPrintable(name));
    return *found;
}

}  // namespace setwright::app
