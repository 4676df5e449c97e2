#pragma once

#include <vector>

#include "app/desk.h"

namespace setwright::app {

/// One sentence that must be read before the work goes on.
void tell(Desk& desk, QWidget* parent, const base::Text& sentence);

/// What is to be known of a file that was read, in one list; nothing where there is none. Waits for nobody.
void show_remarks(Desk& desk, QWidget* parent, const QString& file, const std::vector<base::Text>& remarks);

}  // namespace setwright::app
