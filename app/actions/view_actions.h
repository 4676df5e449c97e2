#pragma once

#include <QAction>
#include <functional>

#include "app/desk.h"

namespace setwright::app {

/// Light and dark; `use` changes the whole window. Remembered for the next start.
std::vector<QAction*> theme_actions(Desk& desk, QWidget* parent, const std::function<void(Theme)>& use);
/// Millimetres, inches in fractions of 1/16, 1/32 or 1/64: an undoable edit of the job.
std::vector<QAction*> unit_actions(Desk& desk, QWidget* parent);

}  // namespace setwright::app
