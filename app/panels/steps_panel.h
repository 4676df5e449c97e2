#pragma once

#include <QWidget>

#include "app/desk.h"

class QLabel;
class QLineEdit;
class QListWidget;
class QToolButton;

namespace setwright::app {

/// Every step of the stage in order. What its own order does not speak of is put in: blocks before the first piece,
/// hosts before what stands on them; pieces as they are held; last what stands or presses on pieces. Such steps have no
/// id yet.
std::vector<setup::Step> all_steps(const setup::Setup& setup, const setup::Stage& stage);

/// The order of work at one stage. Each change is one edit that writes the whole order down.
class StepsPanel : public QWidget {
    Q_OBJECT
  public:
    explicit StepsPanel(Desk& desk, QWidget* parent = nullptr);

  private:
    QWidget* make_buttons();
    QToolButton* add_button(const std::string& name, const QString& icon);
    void pull();
    void show_selection();
    void show_row();
    void take_selection();
    QString words_for(const setup::Step& step) const;
    QString icon_for(const setup::Step& step) const;

    /// -1: none.
    int row() const;
    void move(int from, int to);
    void add(setup::StepKind kind);
    void remove();
    void write_note();
    bool commit(std::vector<setup::Step> order, const base::Text& label, int row_after);

    Desk& desk_;
    QLabel* head_ = nullptr;
    QListWidget* list_ = nullptr;
    QToolButton* up_ = nullptr;
    QToolButton* down_ = nullptr;
    QToolButton* add_ = nullptr;
    QToolButton* remove_ = nullptr;
    QToolButton* as_set_ = nullptr;
    QLineEdit* note_ = nullptr;
    std::vector<setup::Step> steps_;
};

}  // namespace setwright::app
