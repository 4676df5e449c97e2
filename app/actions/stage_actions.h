#pragma once

#include <QMenu>

#include "app/desk.h"

namespace setwright::app {

/// The stages of the job: go to one, name it, begin the next with what is welded so far.
QMenu* stage_menu(Desk& desk, QWidget* parent);

}  // namespace setwright::app
