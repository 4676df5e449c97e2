#pragma once

#include <QLineEdit>

#include "app/desk.h"

class QAction;

namespace setwright::app {

/// A length in the job's unit, typed as people write it: `12,5`, `19 mm`, `3/4"`, `1 1/2`. Taken over on Enter or when
/// the field is left; what is no length stays in the field, marked, until it is corrected or Escape brings the last
/// one back.
class LengthEdit : public QLineEdit {
    Q_OBJECT
  public:
    explicit LengthEdit(Desk& desk, QWidget* parent = nullptr);

    /// Shown in the job's unit; takes no notice while somebody types here.
    void set_length(double mm);
    double length_mm() const { return mm_; }
    bool is_bad() const { return bad_; }

  Q_SIGNALS:
    /// Another length was typed.
    void length_edited(double mm);

  protected:
    void keyPressEvent(QKeyEvent* event) override;
    void focusInEvent(QFocusEvent* event) override;
    void focusOutEvent(QFocusEvent* event) override;

  private:
    void take_over();
    void restore();
    void mark(bool bad);

    Desk& desk_;
    QAction* sign_ = nullptr;
    QString good_tip_;
    double mm_ = 0;
    bool bad_ = false;
};

}  // namespace setwright::app
