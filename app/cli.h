#pragma once

namespace setwright::app {

/// The command line of the whole program. Gives the exit code: 0 good, 1 a check failed or there is no answer, 2 bad
/// input, 3 our mistake.
int run(int argc, char** argv);

}  // namespace setwright::app
