#include "core/sheet/pages.h"

#include <QGuiApplication>
#include <QTemporaryDir>
#include <cstdlib>
#include <filesystem>

#include "app/commands/job.h"
#include "app/print.h"

namespace setwright::app {

namespace {

namespace fs = std::filesystem;

/// Painting text needs an application; the command line has none until here.
base::Result<std::vector<std::string>> write(const std::vector<sheet::Page>& pages, const fs::path& out,
                                             const std::string& title) {
    if (out.extension() != ".pdf") return write_pages(pages, out.string(), title);
    int argc = 1;
    char name[] = "setwright";
    char* argv[] = {name, nullptr};
    // Qt complains on standard error about a missing or foreign runtime folder, which nothing here needs.
    const QTemporaryDir runtime;
    if (runtime.isValid()) ::setenv("XDG_RUNTIME_DIR", runtime.path().toLocal8Bit().constData(), 1);
    const QGuiApplication fonts_need_it(argc, argv);
    return write_pages(pages, out.string(), title);
}

}  // namespace

int sheets(const Console& console, const SheetsOptions& options) {
    const fs::path out = options.out;
    const std::string kind = out.extension().string();
    if (kind == ".dxf" || kind == ".html" || kind == ".csv")
        return console.fail({base::ErrorKind::not_yet, {"cli.not_yet_pages", {{"kind", kind}}}});
    if (kind != ".pdf" && kind != ".svg")
        return console.fail(base::bad_input({"cli.unknown_pages", {{"file", options.out}}}));
    if (!options.units.empty() && options.units != "mm" && options.units != "in")
        return console.fail(base::bad_input({"cli.bad_units", {{"value", options.units}}}));

    const base::Result<setup::Setup> setup = open(console, options.job);
    if (!setup) return console.fail(setup.error());
    const std::string paper_name = options.paper.empty() ? setup->display.paper : options.paper;
    const std::optional<sheet::Paper> paper = sheet::parse_paper(paper_name);
    if (!paper) return console.fail(base::bad_input({"cli.no_paper", {{"paper", paper_name}}}));
    base::DisplayUnit unit = setup->display.unit;
    if (options.units == "in") unit.unit = base::LengthUnit::inch;
    if (options.units == "mm") unit.unit = base::LengthUnit::mm;

    const check::Report report = check::check(*setup);
    const base::Result<std::vector<sheet::Page>> pages =
        sheet::set_up_pages(*setup, report, console.texts(), {*paper, unit});
    if (!pages) return console.fail(pages.error());
    if (const auto written = write(*pages, out, document_title(*setup)); !written) return console.fail(written.error());
    console.say({"cli.sheets_written", {{"pages", static_cast<std::int64_t>(pages->size())}, {"file", options.out}}});
    if (report.failed()) console.remark({"cli.sheets_with_failures", {}});
    return exit_good;
}

}  // namespace setwright::app
