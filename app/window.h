#pragma once

#include <string>

namespace setwright::app {

/// True where an X server takes a connection under $DISPLAY.
bool display_answers();

/// Makes everything there is one of and shows the window until it is closed; gives the exit code. `to_open`: a job or
/// STEP file, "" for none. `plan_only`: never tries OpenGL. The platform must be set (QT_QPA_PLATFORM) and reachable.
/// SIGTERM and SIGINT end it without a question: what is unsaved is left behind for the next start.
int run_window(int argc, char** argv, const std::string& to_open, bool plan_only);

}  // namespace setwright::app
