#include <csignal>

#include "app/cli.h"

int main(int argc, char** argv) {
    // Inherited as ignored it would take the helper's exit status away.
    std::signal(SIGCHLD, SIG_DFL);
    return setwright::app::run(argc, argv);
}
