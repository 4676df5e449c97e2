#pragma once

#include <QAction>

#include "app/desk.h"

namespace setwright::app {

QAction* undo_action(Desk& desk, QWidget* parent);
QAction* redo_action(Desk& desk, QWidget* parent);
/// Takes what is selected off the table.
QAction* remove_action(Desk& desk, QWidget* parent);
/// Another one like the selected block hangs on the pointer, with the same turn, mark and packers.
QAction* duplicate_action(Desk& desk, QWidget* parent);
/// All blocks of the stage.
QAction* select_all_action(Desk& desk, QWidget* parent);

}  // namespace setwright::app
