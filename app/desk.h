#pragma once

#include <memory>

#include "app/checker.h"
#include "app/icons.h"
#include "app/session.h"
#include "app/theme.h"
#include "app/words.h"

namespace setwright::app {

class Tool;
class Workbench;

/// What panels, tools and actions may reach. Made once in window(), outlives them all.
struct Desk {
    Session& session;
    Checker& checker;
    Words& words;
    Icons& icons;
    viewer::ShapeBook& shapes;
    Theme theme = Theme::light;
    /// Set by the main window.
    Workbench* bench = nullptr;
};

}  // namespace setwright::app
