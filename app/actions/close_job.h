#pragma once

#include "app/desk.h"

namespace setwright::app {

/// Asks what becomes of changes that are not saved, and saves them where that is the answer. False where the job is to
/// stay open.
bool may_close_job(Desk& desk, QWidget* parent);

}  // namespace setwright::app
