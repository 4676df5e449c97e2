#pragma once

#include <QAction>
#include <QMenu>

#include "app/autosave.h"
#include "app/desk.h"

namespace setwright::app {

/// Opens a job, or begins one with a STEP file: told apart by what is in it. Asks about unsaved changes first. Where it
/// cannot be read the sentence why is shown and the open job stays.
void open_path(Desk& desk, QWidget* parent, const QString& path);
/// Opens what a crash left behind, unsaved, under the name it had. False where it is still left behind: the user kept
/// the open job, or it cannot be read.
bool recover_job(Desk& desk, QWidget* parent, Autosave& autosave, const LeftBehind& left);

QAction* open_job_action(Desk& desk, QWidget* parent);
/// Jobs that were open before.
QMenu* recent_menu(Desk& desk, QWidget* parent);

}  // namespace setwright::app
