#include "core/base/bug.h"

#include <cstdio>
#include <cstdlib>

namespace setwright::base {

namespace {
BugHandler handler_ = nullptr;
}

void on_bug(BugHandler handler) {
    handler_ = handler;
}

void bug(const char* condition, const char* why, const char* file, int line) {
    char text[1024];
    std::snprintf(text, sizeof text, "%s:%d: %s (%s)", file, line, why, condition);
    std::fprintf(stderr, "setwright: our mistake, not yours: %s\n", text);
    if (BugHandler handler = handler_) {
        handler_ = nullptr;  // a bug inside the handler must not come back here for ever
        handler(text);
    }
    std::fflush(nullptr);
    std::_Exit(3);
}

}  // namespace setwright::base
