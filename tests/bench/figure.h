#pragma once

#include <cmath>
#include <ctime>
#include <iostream>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

/// What every measuring program of this folder says, and how it takes time.
namespace setwright::bench {

/// Processor time of this thread: what other work on the machine does not spoil as it spoils a clock on the wall.
inline double thread_seconds() {
    timespec now{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + static_cast<double>(now.tv_nsec) * 1e-9;
}

/// To four digits: more would be noise.
inline double rounded(double value) {
    if (value == 0) return 0;
    const double unit = std::pow(10, 3 - std::floor(std::log10(std::abs(value))));
    return std::round(value * unit) / unit;
}

/// One line of JSON: what was measured, against which target, and compared with what.
inline void say(const std::string& name, double value, const std::string& unit, const std::string& target, bool ok,
                const std::string& against) {
    nlohmann::ordered_json line;
    line["name"] = name;
    line["value"] = rounded(value);
    line["unit"] = unit;
    line["target"] = target;
    line["ok"] = ok;
    line["against"] = against;
    std::cout << line.dump() << std::endl;
}
inline void say_at_most(const std::string& name, double value, const std::string& unit, double most,
                        const std::string& against) {
    say(name, value, unit, "at most " + nlohmann::json(most).dump(), value <= most, against);
}
inline void say_at_least(const std::string& name, double value, const std::string& unit, double least,
                         const std::string& against) {
    say(name, value, unit, "at least " + nlohmann::json(least).dump(), value >= least, against);
}

/// One round of little work, to see that the program runs; its figures mean nothing.
inline bool is_quick(int argc, char** argv) {
    for (int i = 1; i < argc; ++i)
        if (std::string_view(argv[i]) == "--quick") return true;
    return false;
}

}  // namespace setwright::bench
