#pragma once

#include <QMenu>

#include "app/desk.h"

namespace setwright::app {

/// Menus that show which keys a tool takes; choosing an entry presses its key. The keys are the tool's, not the
/// window's: typing into a field never turns a block.
QMenu* block_menu(Desk& desk, QWidget* parent);
QMenu* lay_menu(Desk& desk, QWidget* parent);

/// All keys of the program with what they do, for Help.
QString key_list(Desk& desk);

}  // namespace setwright::app
