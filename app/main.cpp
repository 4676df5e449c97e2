#include "app/cli.h"

int main(int argc, char** argv) {
    return setwright::app::run(argc, argv);
}
