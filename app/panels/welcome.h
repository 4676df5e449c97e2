#pragma once

#include <QWidget>

#include "app/desk.h"

class QAction;

namespace setwright::app {

/// What the middle shows while no job is open: the ways to begin.
class Welcome : public QWidget {
    Q_OBJECT
  public:
    /// The buttons do these actions.
    Welcome(Desk& desk, const std::vector<QAction*>& ways, QWidget* parent = nullptr);
};

}  // namespace setwright::app
