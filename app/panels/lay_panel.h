#pragma once

#include <QWidget>
#include <array>

#include "app/desk.h"

class QAbstractButton;
class QComboBox;
class QDoubleSpinBox;
class QGridLayout;
class QLabel;
class QPushButton;

namespace setwright::app {

class LengthEdit;

/// How the weldment lies: which side is down, turned how far, where its corner stands. Every control is one edit.
class LayPanel : public QWidget {
    Q_OBJECT
  public:
    explicit LayPanel(Desk& desk, QWidget* parent = nullptr);

  protected:
    void changeEvent(QEvent* event) override;

  private:
    QWidget* make_sides();
    QWidget* make_turn();
    QWidget* make_place();
    QWidget* make_nudges();
    QAbstractButton* add_nudge(QGridLayout& grid, int row, int column, const QString& icon, const std::string& name,
                               const space::Vec3& way);
    void pull();
    void pull_place(const setup::Setup& shown, const setup::Stage& stage);
    void lay_side(const std::string& side, double yaw_deg, const base::Text& label);
    void turn(double deg);
    void put(int axis, double mm);
    /// Millimetres of one nudge along x, y, z.
    space::Vec3 nudge_mm() const;

    Desk& desk_;
    QPushButton* face_down_ = nullptr;
    std::array<QPushButton*, 6> sides_{};
    QDoubleSpinBox* yaw_ = nullptr;
    std::array<LengthEdit*, 3> place_{};
    QComboBox* step_ = nullptr;
    QLabel* lies_ = nullptr;
    QLabel* over_sign_ = nullptr;
    QLabel* over_ = nullptr;
};

}  // namespace setwright::app
