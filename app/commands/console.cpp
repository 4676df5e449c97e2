#include <iostream>

#include "app/commands/commands.h"

namespace setwright::app {

void Console::say(const base::Text& text, base::DisplayUnit unit) const {
    std::cout << texts_.render(text, unit) << '\n';
}

void Console::remark(const base::Text& text) const {
    std::cerr << texts_.render(text) << '\n';
}

void Console::print(const std::string& text) const {
    std::cout << text;
}

int Console::fail(const base::Error& error) const {
    std::cerr << texts_.render(error.text) << '\n';
    switch (error.kind) {
        case base::ErrorKind::bad_input:
            return exit_bad_input;
        case base::ErrorKind::none_possible:
        case base::ErrorKind::not_yet:
        case base::ErrorKind::cancelled:
            return exit_failed;
    }
    return exit_bug;
}

}  // namespace setwright::app
