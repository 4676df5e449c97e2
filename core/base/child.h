#pragma once

#include <chrono>
#include <string>
#include <vector>

#include "core/base/progress.h"
#include "core/base/result.h"

namespace setwright::base {

struct ChildRun {
    /// Exit status; -1 where a signal or the time limit ended it.
    int exit_code = -1;
    int signal = 0;
    bool timed_out = false;
    bool cancelled = false;
    /// What it printed on standard output, up to the limit.
    std::string output;
    /// The last part of what it printed on standard error.
    std::string messages;
};

/// Runs a program with posix_spawn, in its own process group, standard input empty, and waits for it. It is killed,
/// with its group, when `job` is cancelled, `wall` is over or it prints more than `output_limit` bytes. Fails only
/// where it cannot be started.
Result<ChildRun> run_child(const std::string& program, const std::vector<std::string>& arguments,
                           std::chrono::milliseconds wall, const Progress& job = {},
                           std::size_t output_limit = std::size_t{2} << 30);

}  // namespace setwright::base
