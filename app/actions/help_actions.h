#pragma once

#include <QAction>

#include "app/desk.h"

namespace setwright::app {

QAction* keys_action(Desk& desk, QWidget* parent);
/// Version, licence, the libraries used, and the usual cautions.
QAction* about_action(Desk& desk, QWidget* parent);

}  // namespace setwright::app
