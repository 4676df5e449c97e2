#pragma once

#include <QWidget>

#include "app/desk.h"

class QLabel;
class QTreeWidget;
class QTreeWidgetItem;

namespace setwright::app {

/// What is to be welded: doubts first, then pieces by group, then welds. Follows the selection and makes it.
class PiecesPanel : public QWidget {
    Q_OBJECT
  public:
    explicit PiecesPanel(Desk& desk, QWidget* parent = nullptr);

  private:
    void pull();
    void pull_head();
    void pull_list();
    void add_doubts(const setup::WeldmentUse& use);
    void add_pieces(const setup::WeldmentUse& use);
    void add_seams(const setup::WeldmentUse& use);
    QTreeWidgetItem* add_row(QTreeWidgetItem* above, const QString& words, const QString& icon);
    void show_selection();
    void take_selection();

    Desk& desk_;
    QLabel* head_ = nullptr;
    QTreeWidget* list_ = nullptr;
};

}  // namespace setwright::app
