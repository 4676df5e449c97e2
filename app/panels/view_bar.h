#pragma once

#include <QWidget>

#include "app/desk.h"

class QToolButton;

namespace setwright::app {

/// Over the workbench: how and from where one looks.
class ViewBar : public QWidget {
    Q_OBJECT
  public:
    ViewBar(Desk& desk, QWidget* parent = nullptr);

  private:
    QToolButton* add(const QString& icon, const std::string& text, const QString& name);
    void pull();

    Desk& desk_;
    QToolButton* plan_ = nullptr;
    QToolButton* solid_ = nullptr;
    std::vector<std::pair<QToolButton*, viewer::Direction>> directions_;
};

}  // namespace setwright::app
