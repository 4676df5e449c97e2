#include "viewer/view.h"

#include <QMouseEvent>
#include <QWheelEvent>
#include <cmath>

namespace setwright::viewer {

View::View(QWidget* parent) : QWidget(parent) {
    setMouseTracking(true);
    setFocusPolicy(Qt::StrongFocus);
    setMinimumSize(320, 240);
}

void View::mousePressEvent(QMouseEvent* event) {
    if (grip_ != Grip::none) return;
    last_ = event->position();
    switch (event->button()) {
        case Qt::LeftButton:
            grip_ = Grip::tool;
            Q_EMIT pressed(event->position(), event->modifiers());
            break;
        case Qt::MiddleButton:
            grip_ = event->modifiers().testFlag(Qt::ShiftModifier) ? Grip::turn : Grip::pan;
            break;
        case Qt::RightButton:
            grip_ = Grip::turn;
            break;
        default:
            break;
    }
}

void View::mouseMoveEvent(QMouseEvent* event) {
    const QPointF by = event->position() - last_;
    last_ = event->position();
    if (grip_ == Grip::pan) {
        pan(by);
        Q_EMIT camera_moved();
    } else if (grip_ == Grip::turn) {
        turn(by);
        Q_EMIT camera_moved();
    } else {
        Q_EMIT moved(event->position(), event->modifiers());
    }
}

void View::mouseReleaseEvent(QMouseEvent* event) {
    const bool was_tool = grip_ == Grip::tool && event->button() == Qt::LeftButton;
    // A press of a second button while one is held starts nothing, its release ends nothing.
    if (!(event->buttons() & (Qt::LeftButton | Qt::MiddleButton | Qt::RightButton))) grip_ = Grip::none;
    if (!was_tool) return;
    grip_ = Grip::none;
    Q_EMIT released(event->position(), event->modifiers());
}

void View::mouseDoubleClickEvent(QMouseEvent* event) {
    if (event->button() != Qt::LeftButton) return;
    grip_ = Grip::tool;
    Q_EMIT double_clicked(event->position(), event->modifiers());
}

void View::wheelEvent(QWheelEvent* event) {
    // One notch of a common wheel is 120; touchpads send less, more often.
    zoom(std::pow(1.2, event->angleDelta().y() / 120.0), event->position());
    event->accept();
    Q_EMIT camera_moved();
}

void View::leaveEvent(QEvent* event) {
    QWidget::leaveEvent(event);
    Q_EMIT left();
}

}  // namespace setwright::viewer
