#pragma once

#include <QWidget>
#include <array>

#include "app/desk.h"

class QCheckBox;
class QComboBox;
class QLabel;
class QLineEdit;
class QScrollArea;
class QToolButton;
class QVBoxLayout;

namespace setwright::app {

/// What is selected: a block and all that can be changed about its place, a piece and how it is held, a weld, or how
/// many of each.
class SelectedPanel : public QWidget {
    Q_OBJECT
  public:
    explicit SelectedPanel(Desk& desk, QWidget* parent = nullptr);

  protected:
    void changeEvent(QEvent* event) override;

  private:
    /// One line of the block's place: its name, its value, buttons that take the one before or after.
    struct Row {
        QWidget* line = nullptr;
        QLabel* value = nullptr;
        std::vector<QToolButton*> steps;
    };
    struct Wrong {
        QWidget* line = nullptr;
        QLabel* words = nullptr;
    };

    QWidget* make_nothing();
    QWidget* make_block();
    QWidget* make_piece();
    QWidget* make_seam();
    QWidget* make_several();
    QToolButton* make_button(const char* icon, const char* tip, const char* name, QWidget* parent);
    QLabel* make_words(const char* name, QWidget* parent);
    Row make_row(const char* title, const char* name, QVBoxLayout* column);

    void pull();
    void pull_nothing();
    void pull_block(const setup::Setup& setup, const setup::Stage& stage, const setup::Placement& placement);
    void pull_rows(const setup::Setup& setup, const setup::Placement& placement, const shop::Component& component);
    void pull_facts(const setup::Setup& setup, const setup::Stage& stage, const setup::Placement& placement);
    void pull_piece(const setup::Setup& setup, const setup::Stage& stage, PieceId piece);
    void pull_held(const setup::Setup& setup, const setup::Stage& stage, PieceId piece);
    void pull_seam(const setup::Setup& setup, SeamId seam);
    void pull_several(const setup::Setup& setup);
    void show_page(QWidget* page);

    const setup::Placement* only_block() const;
    void set_seat(const std::optional<setup::Seat>& seat, const char* label, const char* none);
    void step_hole(int columns, int rows);
    void move_to_callout();
    void write_note();
    void remove();
    void duplicate();
    void hold(int index);
    void say_wrong(const QString& sentence);

    Desk& desk_;
    QScrollArea* scroll_ = nullptr;
    QWidget *nothing_ = nullptr, *block_ = nullptr, *piece_ = nullptr, *seam_ = nullptr, *several_ = nullptr;
    QLabel* help_ = nullptr;

    QLabel *picture_ = nullptr, *block_name_ = nullptr, *block_kind_ = nullptr;
    QLineEdit* callout_ = nullptr;
    Wrong wrong_;
    Row turn_, hand_, mark_, plate_, under_, face_, hole_;
    QLabel* facts_ = nullptr;
    QCheckBox* locked_ = nullptr;
    QLineEdit* note_ = nullptr;

    QLabel *piece_name_ = nullptr, *piece_kind_ = nullptr, *held_words_ = nullptr, *moves_ = nullptr;
    QLabel* moves_sign_ = nullptr;
    QComboBox* held_ = nullptr;

    QLabel *seam_name_ = nullptr, *seam_kind_ = nullptr;

    QLabel* several_words_ = nullptr;
    QToolButton* several_remove_ = nullptr;
};

}  // namespace setwright::app
