#pragma once

#include <QPointer>
#include <QWidget>
#include <memory>

#include "app/desk.h"
#include "app/tools/touch_tool.h"

class QCheckBox;
class QLabel;
class QLineEdit;
class QListWidget;
class QPushButton;
class QTreeWidget;
class QTreeWidgetItem;

namespace setwright::app {

/// What can stand on this table and how many are left of it: drag it onto the view, click it and click a hole, write
/// its callout, or let it look for places where it touches a face.
class ShelfPanel : public QWidget {
    Q_OBJECT
  public:
    explicit ShelfPanel(Desk& desk, QWidget* parent = nullptr);

    /// The component chosen in the list; null where there is none.
    std::shared_ptr<const shop::Component> chosen() const;

  protected:
    void changeEvent(QEvent* event) override;
    bool eventFilter(QObject* watched, QEvent* event) override;
    /// Escape puts back what is in hand.
    void keyPressEvent(QKeyEvent* event) override;

  private:
    QWidget* make_callout();
    QWidget* make_offers();
    void fill();
    void add_group(const char* title, const std::vector<std::shared_ptr<const shop::Component>>& components);
    void pull_counts();
    void pull_pictures();
    void filter();
    void follow_choice();
    void take_in_hand();
    void set_by_callout();
    void touch_a_face();
    void follow_tool();
    void show_offers(const std::vector<Offer>& offers);
    void say_wrong(const QString& sentence);

    Desk& desk_;
    QLineEdit* search_ = nullptr;
    QCheckBox* only_left_ = nullptr;
    QTreeWidget* list_ = nullptr;
    QLabel* none_ = nullptr;
    QLabel* for_ = nullptr;
    QLineEdit* callout_ = nullptr;
    QPushButton* set_ = nullptr;
    QWidget* wrong_ = nullptr;
    QLabel* wrong_words_ = nullptr;
    QPushButton* touch_ = nullptr;
    QLabel* touch_help_ = nullptr;
    QListWidget* offers_ = nullptr;
    QPointer<TouchTool> tool_;
};

}  // namespace setwright::app
