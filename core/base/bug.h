#pragma once

namespace setwright::base {

/// Called once with the assertion's text before the program ends; the app saves the open job here. Must not throw.
using BugHandler = void (*)(const char* what);
void on_bug(BugHandler handler);

[[noreturn]] void bug(const char* condition, const char* why, const char* file, int line);

}  // namespace setwright::base

/// States what only our own mistake could break. Stays on in release builds; `why` says what it would mean.
#define SETWRIGHT_ASSERT(condition, why) \
    ((condition) ? void(0) : ::setwright::base::bug(#condition, why, __FILE__, __LINE__))
