#include "app/panels/length_edit.h"

#include <QAction>
#include <QKeyEvent>

namespace setwright::app {

LengthEdit::LengthEdit(Desk& desk, QWidget* parent) : QLineEdit(parent), desk_(desk) {
    sign_ = addAction(desk.icons("warn"), QLineEdit::TrailingPosition);
    sign_->setVisible(false);
    connect(this, &QLineEdit::textEdited, this, [this] { mark(false); });
    connect(this, &QLineEdit::returnPressed, this, &LengthEdit::take_over);
    restore();
}

void LengthEdit::set_length(double mm) {
    mm_ = mm;
    const bool typing = hasFocus() && isModified();
    if (!typing) restore();
}

void LengthEdit::keyPressEvent(QKeyEvent* event) {
    if (event->key() == Qt::Key_Escape && (isModified() || bad_)) {
        restore();
        selectAll();
        return;
    }
    QLineEdit::keyPressEvent(event);
}

void LengthEdit::focusInEvent(QFocusEvent* event) {
    QLineEdit::focusInEvent(event);
    if (event->reason() == Qt::TabFocusReason || event->reason() == Qt::BacktabFocusReason) selectAll();
}

void LengthEdit::focusOutEvent(QFocusEvent* event) {
    QLineEdit::focusOutEvent(event);
    if (event->reason() != Qt::PopupFocusReason) take_over();
}

void LengthEdit::take_over() {
    if (!isModified()) return;
    const std::optional<double> mm = base::parse_length(text().trimmed().toStdString(), desk_.words.unit().unit);
    if (!mm) {
        mark(true);
        return;
    }
    const bool other = *mm != mm_;
    mm_ = *mm;
    restore();
    if (other) Q_EMIT length_edited(mm_);
}

void LengthEdit::restore() {
    setText(desk_.words.length(mm_));
    setModified(false);
    mark(false);
}

void LengthEdit::mark(bool bad) {
    if (bad == bad_) return;
    if (bad) good_tip_ = toolTip();
    bad_ = bad;
    sign_->setVisible(bad);
    const QString tip = bad ? desk_.words("panel.no_length") : good_tip_;
    setToolTip(tip);
    sign_->setToolTip(tip);
}

}  // namespace setwright::app
