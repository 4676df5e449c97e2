#include <chrono>
#include <iostream>

#include "app/commands/job.h"
#include "core/check/report_json.h"

namespace setwright::app {

namespace {

base::Text finding_text(const check::Finding& finding) {
    const std::string verdict = finding.accepted ? "accepted" : check::key(finding.verdict);
    return {"check.line",
            {{"verdict", std::vector{base::Text{"verdict." + verdict, {}}}}, {"text", std::vector{finding.text}}}};
}

}  // namespace

int check(const Console& console, const CheckOptions& options) {
    const base::Result<setup::Setup> setup = open(console, options.job);
    if (!setup) return console.fail(setup.error());
    const auto start = std::chrono::steady_clock::now();
    const check::Report report = check::check(*setup);
    const std::chrono::duration<double, std::milli> took = std::chrono::steady_clock::now() - start;
    if (options.json) {
        console.print(check::report_json(*setup, report, console.texts()));
    } else {
        for (const check::Finding& finding : report.findings) console.say(finding_text(finding), setup->display.unit);
        console.say({report.failed() ? "cli.check_failed" : "cli.check_passed", {}});
    }
    if (options.timing) std::cerr << "check " << took.count() << " ms\n";
    return report.failed() ? exit_failed : exit_good;
}

}  // namespace setwright::app
