#pragma once

#include <QAction>

#include "app/desk.h"

namespace setwright::app {

/// What is being typed into a field counts as typed: to be called before the job is saved, drawn or closed.
void finish_typing();
/// Into the job's own file, or, where it has none yet, into one that is asked for. True where it is on the disk now;
/// else the sentence why has been read, or the user gave up, and nothing is lost.
bool save_job(Desk& desk, QWidget* parent);
/// Into a file that is asked for; asks again before it writes over another one.
bool save_job_as(Desk& desk, QWidget* parent);

QAction* save_job_action(Desk& desk, QWidget* parent);
QAction* save_job_as_action(Desk& desk, QWidget* parent);

}  // namespace setwright::app
