#include "tests/app/hand.h"

#include <QApplication>
#include <QCursor>
#include <QElapsedTimer>
#include <QPointer>
#include <QTest>
#include <QTimer>
#include <QWheelEvent>
#include <thread>
// X11 last: its macros take Qt's names away.
#include <X11/Xlib.h>
#include <X11/extensions/XTest.h>
#include <X11/keysym.h>
#undef None
#undef KeyPress
#undef KeyRelease
#undef FocusIn
#undef FocusOut
#undef Bool
#undef Status

namespace setwright::app {

namespace {

/// The window that a person would type into. Without a window manager nobody makes it the active one again when a
/// dialog has gone.
QWidget* window_in_front() {
    if (QWidget* modal = QApplication::activeModalWidget()) return modal;
    if (QWidget* active = QApplication::activeWindow(); active && active->isVisible()) return active;
    for (QWidget* window : QApplication::topLevelWidgets())
        if (window->isVisible() && window->windowType() == Qt::Window) return window;
    return nullptr;
}

}  // namespace

class Hand::Device {
  public:
    virtual ~Device() = default;
    virtual QString kind() const = 0;
    virtual void move(QWidget& over, const QPointF& at) = 0;
    virtual void button(Qt::MouseButton button, bool down) = 0;
    virtual void wheel(int notches) = 0;
    virtual void key(int key, Qt::KeyboardModifiers modifiers, const QString& text) = 0;
    virtual void carry(const QPointF& from_global, const QPointF& to_global) = 0;
};

class Hand::Server : public Device {
  public:
    Server() : display_(XOpenDisplay(nullptr)) {
        if (!display_) qFatal("no X server to type into");
    }
    ~Server() override { XCloseDisplay(display_); }
    QString kind() const override { return "xtest"; }

    void move(QWidget& over, const QPointF& at) override {
        const QPointF global = over.mapToGlobal(at) * over.devicePixelRatioF();
        XTestFakeMotionEvent(display_, -1, qRound(global.x()), qRound(global.y()), CurrentTime);
        XSync(display_, False);
    }
    void button(Qt::MouseButton button, bool down) override {
        const unsigned int number = button == Qt::LeftButton ? 1 : button == Qt::MiddleButton ? 2 : 3;
        XTestFakeButtonEvent(display_, number, down ? True : False, CurrentTime);
        XSync(display_, False);
    }
    void wheel(int notches) override {
        const unsigned int number = notches > 0 ? 4 : 5;
        for (int i = 0; i < std::abs(notches); ++i) {
            XTestFakeButtonEvent(display_, number, True, CurrentTime);
            XTestFakeButtonEvent(display_, number, False, CurrentTime);
        }
        XSync(display_, False);
    }
    void key(int key, Qt::KeyboardModifiers modifiers, const QString& text) override {
        focus_window();
        const KeySym symbol = symbol_of(key, text);
        KeyCode code = XKeysymToKeycode(display_, symbol);
        bool shift = modifiers.testFlag(Qt::ShiftModifier);
        if (code == 0) {
            // Not on this keyboard: lend it a spare key.
            code = spare_key();
            KeySym symbols[] = {symbol, symbol};
            XChangeKeyboardMapping(display_, code, 2, symbols, 1);
            XSync(display_, False);
            Hand::wait(30);
        } else if (XkbKeycode(code, 0) != symbol && XkbKeycode(code, 1) == symbol) {
            shift = true;
        }
        const auto hold = [&](bool on, KeySym which, bool down) {
            if (on) XTestFakeKeyEvent(display_, XKeysymToKeycode(display_, which), down ? True : False, CurrentTime);
        };
        const bool control = modifiers.testFlag(Qt::ControlModifier), alt = modifiers.testFlag(Qt::AltModifier);
        for (const bool down : {true, false}) {
            if (down) {
                hold(control, XK_Control_L, true);
                hold(alt, XK_Alt_L, true);
                hold(shift, XK_Shift_L, true);
            }
            XTestFakeKeyEvent(display_, code, down ? True : False, CurrentTime);
            if (!down) {
                hold(shift, XK_Shift_L, false);
                hold(alt, XK_Alt_L, false);
                hold(control, XK_Control_L, false);
            }
        }
        XSync(display_, False);
    }

    void carry(const QPointF& from, const QPointF& to) override {
        // The program's drag loop holds this thread, so another one moves the mouse.
        std::atomic<bool> done = false;
        std::jthread mover([&] {
            ::Display* display = XOpenDisplay(nullptr);
            const auto rest = [&] {
                XSync(display, False);
                std::this_thread::sleep_for(std::chrono::milliseconds(30));
            };
            const auto go = [&](const QPointF& at) {
                XTestFakeMotionEvent(display, -1, qRound(at.x()), qRound(at.y()), CurrentTime);
                rest();
            };
            go(from);
            XTestFakeButtonEvent(display, 1, True, CurrentTime);
            rest();
            for (int i = 1; i <= 20; ++i) go(from + (to - from) * i / 20);
            rest();
            XTestFakeButtonEvent(display, 1, False, CurrentTime);
            rest();
            XCloseDisplay(display);
            done = true;
        });
        Hand::wait_for([&] { return done.load(); }, 20000);
    }

  private:
    KeySym XkbKeycode(KeyCode code, int level) const {
        int per_key = 0;
        KeySym* symbols = XGetKeyboardMapping(display_, code, 1, &per_key);
        const KeySym found = level < per_key ? symbols[level] : NoSymbol;
        XFree(symbols);
        return found;
    }
    KeyCode spare_key() const {
        int least = 0, most = 0;
        XDisplayKeycodes(display_, &least, &most);
        for (int code = most; code > least; --code) {
            const KeySym symbol = XkbKeycode(static_cast<KeyCode>(code), 0);
            if (symbol == NoSymbol) return static_cast<KeyCode>(code);
        }
        return static_cast<KeyCode>(most);
    }
    /// Without a window manager nobody gives the focus.
    void focus_window() {
        if (QApplication::activePopupWidget()) return;
        QWidget* window = window_in_front();
        if (!window) return;
        XSetInputFocus(display_, window->window()->winId(), RevertToParent, CurrentTime);
        XSync(display_, False);
        Hand::wait_for([window] { return window->isActiveWindow(); }, 500);
    }
    static KeySym symbol_of(int key, const QString& text) {
        if (!text.isEmpty()) {
            const char32_t letter = text.toUcs4().front();
            return letter < 0x100 ? letter : 0x01000000 | letter;
        }
        switch (key) {
            case Qt::Key_Escape:
                return XK_Escape;
            case Qt::Key_Return:
                return XK_Return;
            case Qt::Key_Tab:
                return XK_Tab;
            case Qt::Key_Delete:
                return XK_Delete;
            case Qt::Key_Backspace:
                return XK_BackSpace;
            case Qt::Key_Left:
                return XK_Left;
            case Qt::Key_Right:
                return XK_Right;
            case Qt::Key_Up:
                return XK_Up;
            case Qt::Key_Down:
                return XK_Down;
            case Qt::Key_PageUp:
                return XK_Page_Up;
            case Qt::Key_PageDown:
                return XK_Page_Down;
            case Qt::Key_Plus:
                return XK_plus;
            case Qt::Key_Minus:
                return XK_minus;
            default:
                return key >= Qt::Key_A && key <= Qt::Key_Z ? static_cast<KeySym>(XK_a + (key - Qt::Key_A))
                                                            : static_cast<KeySym>(key);
        }
    }

    ::Display* display_;
};

class Hand::Queue : public Device {
  public:
    QString kind() const override { return "queue"; }
    void move(QWidget& over, const QPointF& at) override {
        const QPoint global = over.mapToGlobal(at).toPoint();
        if (!down_) {
            QWidget* top = QApplication::activePopupWidget();
            if (!top) top = over.window();
            QWidget* child = top->childAt(top->mapFromGlobal(global));
            under_ = child ? child : top;
        }
        at_ = global;
        send(QEvent::MouseMove, Qt::NoButton);
    }
    void button(Qt::MouseButton button, bool down) override {
        if (!under_) return;
        if (down) {
            down_ = button;
            for (QWidget* widget = under_; widget; widget = widget->isWindow() ? nullptr : widget->parentWidget())
                if (widget->isEnabled() && (widget->focusPolicy() & Qt::ClickFocus) == Qt::ClickFocus) {
                    widget->setFocus(Qt::MouseFocusReason);
                    break;
                }
            const bool twice = button == Qt::LeftButton && at_ == last_press_ && since_press_.isValid() &&
                               since_press_.elapsed() < QApplication::doubleClickInterval();
            send(twice ? QEvent::MouseButtonDblClick : QEvent::MouseButtonPress, button);
            last_press_ = at_;
            since_press_.start();
        } else {
            const Qt::MouseButton was = std::exchange(down_, Qt::NoButton);
            send(QEvent::MouseButtonRelease, was);
        }
    }
    void wheel(int notches) override {
        if (!under_) return;
        QWheelEvent event(under_->mapFromGlobal(QPointF(at_)), at_, QPoint(), QPoint(0, 120 * notches), Qt::NoButton,
                          Qt::NoModifier, Qt::NoScrollPhase, false);
        QApplication::sendEvent(under_, &event);
    }
    void key(int key, Qt::KeyboardModifiers modifiers, const QString& text) override {
        QWidget* window = window_in_front();
        if (!window) return;
        if (!window->isActiveWindow()) {
            window->activateWindow();
            Hand::wait_for([window] { return window->isActiveWindow(); }, 1000);
        }
        QWidget* target = QApplication::activePopupWidget();
        if (!target && QApplication::focusWidget() && QApplication::focusWidget()->isVisible())
            target = QApplication::focusWidget();
        if (!target) target = window->focusWidget() ? window->focusWidget() : window;
        if (text.isEmpty())
            QTest::keyClick(target, static_cast<Qt::Key>(key), modifiers);
        else
            QTest::keyClicks(target, text, modifiers);
    }

    void carry(const QPointF&, const QPointF&) override { qFatal("a drag from widget to widget needs an X server"); }

  private:
    void send(QEvent::Type type, Qt::MouseButton button) {
        if (!under_) return;
        QMouseEvent event(type, under_->mapFromGlobal(QPointF(at_)), QPointF(at_), button, down_, Qt::NoModifier);
        QApplication::sendEvent(under_, &event);
    }

    QPointer<QWidget> under_;
    QPoint at_, last_press_{-1, -1};
    QElapsedTimer since_press_;
    Qt::MouseButton down_ = Qt::NoButton;
};

Hand::Hand() {
    if (QApplication::platformName() == "xcb")
        device_ = std::make_unique<Server>();
    else
        device_ = std::make_unique<Queue>();
}

Hand::~Hand() = default;

QString Hand::kind() const {
    return device_->kind();
}

void Hand::wait(int milliseconds) {
    QTest::qWait(milliseconds);
}

bool Hand::wait_for(const std::function<bool()>& done, int milliseconds) {
    return QTest::qWaitFor([&] { return done(); }, milliseconds);
}

void Hand::move(QWidget& over, const QPointF& at) {
    device_->move(over, at);
    wait(15);
}

void Hand::press(Qt::MouseButton button) {
    device_->button(button, true);
    wait(15);
}

void Hand::release(Qt::MouseButton button) {
    device_->button(button, false);
    wait(15);
}

void Hand::click(QWidget& widget, const QPointF& at, Qt::MouseButton button) {
    move(widget, at);
    press(button);
    release(button);
    wait(20);
}

void Hand::double_click(QWidget& widget, const QPointF& at) {
    click(widget, at);
    press();
    release();
    wait(20);
}

void Hand::drag(QWidget& widget, const QPointF& from, const QPointF& to, Qt::MouseButton button, int steps) {
    move(widget, from);
    press(button);
    for (int i = 1; i <= steps; ++i) move(widget, from + (to - from) * i / steps);
    wait(40);
    release(button);
    wait(20);
}

void Hand::carry(QWidget& from, const QPointF& at, QWidget& to, const QPointF& there) {
    device_->carry(from.mapToGlobal(at), to.mapToGlobal(there));
    wait(100);
}

void Hand::answer(const QString& dialog, std::function<void(QWidget&)> acts) {
    ++unanswered_;
    auto* look = new QTimer(qApp);
    QObject::connect(look, &QTimer::timeout, look, [this, look, dialog, acts = std::move(acts)] {
        QWidget* front = QApplication::activeModalWidget();
        if (!front || front->objectName() != dialog || !front->isVisible()) return;
        look->stop();
        look->deleteLater();
        --unanswered_;
        wait(50);
        acts(*front);
    });
    look->start(20);
}

void Hand::wheel(QWidget& widget, const QPointF& at, int notches) {
    move(widget, at);
    device_->wheel(notches);
    wait(30);
}

void Hand::key(int key, Qt::KeyboardModifiers modifiers) {
    device_->key(key, modifiers, {});
    wait(30);
}

void Hand::type(const QString& text) {
    for (const QChar letter : text) {
        device_->key(0, {}, QString(letter));
        wait(8);
    }
    wait(20);
}

void Hand::fill(QWidget& field, const QString& text) {
    click(field);
    key(Qt::Key_A, Qt::ControlModifier);
    type(text);
}

}  // namespace setwright::app
