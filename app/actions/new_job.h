#pragma once

#include <QAction>

#include "app/desk.h"

namespace setwright::app {

/// Asks for table, shelf and unit, about unsaved changes, and reads the STEP file into a new job.
void begin_job(Desk& desk, QWidget* parent, const QString& step_file);

/// The same after a STEP file was chosen.
QAction* new_job_action(Desk& desk, QWidget* parent);

}  // namespace setwright::app
