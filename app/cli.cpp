#include "app/cli.h"

#include <fcntl.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <iostream>

#include "app/commands/commands.h"
#include "app/window.h"
#include "core/base/file.h"

namespace setwright::app {

namespace {

/// Commands whose answer comes with a later version: they say so, never pretend.
struct NotYet {
    std::vector<std::string> arguments;
    std::string out, table, shelf, purpose;
    bool other_hand = false;
    bool json = false;
};

struct Options {
    InspectOptions inspect;
    NewOptions create;
    LayOptions lay;
    PlaceOptions place;
    RemoveOptions remove;
    SetOptions set;
    CheckOptions check;
    SheetsOptions sheets;
    ShelfOptions shelf;
    NotYet not_yet;
    std::string to_open;
    bool plan_only = false;
};

CLI::Option* add_stage(CLI::App* command, int& stage) {
    return command->add_option("--stage", stage, "number of the stage, from 1")->capture_default_str();
}

void add_inspect(CLI::App& cli, InspectOptions& o) {
    CLI::App* c = cli.add_subcommand("inspect", "Say what was understood of a STEP file: pieces, cuts, seams, doubts");
    c->add_option("FILE", o.file, "STEP file")->required();
    c->add_flag("--json", o.json, "answer as JSON");
}

void add_new(CLI::App& cli, NewOptions& o) {
    CLI::App* c = cli.add_subcommand("new", "Start a job from a STEP file, with nothing placed");
    c->add_option("FILE", o.file, "STEP file")->required();
    c->add_option("-o,--out", o.job, "job file to write")->required();
    c->add_option("--table", o.table, "table: grid50, grid100, grid2in, grid80, or a table file")
        ->capture_default_str();
    c->add_flag("--force", o.force, "write over a job that is there");
    c->add_option("--shelf", o.shelf, "what the shop owns: a shelf file; else the table's starter shelf");
}

void add_lay(CLI::App& cli, LayOptions& o) {
    CLI::App* c = cli.add_subcommand("lay", "Lay the weldment on the table");
    c->add_option("JOB", o.job, "job file")->required();
    c->add_option("--down", o.down, "side of the model that lies down: -Z, +Z, -Y, +Y, -X, +X")->capture_default_str();
    c->add_option("--turn", o.turn_deg, "turn about the upright axis, degrees counter-clockwise from above")
        ->capture_default_str();
    c->add_option("--at", o.at,
                  "X,Y,Z of the weldment's south-west lowest corner, from the centre of hole A1 on the table top")
        ->required();
    add_stage(c, o.stage);
}

void add_place(CLI::App& cli, PlaceOptions& o) {
    CLI::App* c = cli.add_subcommand("place", "Set a component by its callout, as \"K14 E 6 · plate 100\"");
    c->add_option("JOB", o.job, "job file")->required();
    c->add_option("CALLOUT", o.callout, "hole, facing, mark, plate, packers, hand")->required();
    c->add_option("COMPONENT", o.component, "component, as `setwright shelf JOB` lists them")->required();
    add_stage(c, o.stage);
}

void add_remove(CLI::App& cli, RemoveOptions& o) {
    CLI::App* c = cli.add_subcommand("remove", "Take a component off the table");
    c->add_option("JOB", o.job, "job file")->required();
    c->add_option("NUMBER", o.number, "its number on the drawing")->required();
    c->add_flag("--with-guests", o.with_guests, "and what stands on it");
    add_stage(c, o.stage);
}

void add_set(CLI::App& cli, SetOptions& o) {
    CLI::App* c = cli.add_subcommand("set", "Change one thing of a job");
    c->add_option("JOB", o.job, "job file")->required();
    c->add_option("WHAT", o.what,
                  "block number (value: its new callout), held:PIECE (set-up, nested, by-hand), order, units, job, "
                  "part, customer, planner, "
                  "date, revision, hand, notes, stage")
        ->required();
    c->add_option("VALUE", o.value, "new value")->required();
    add_stage(c, o.stage);
}

void add_check(CLI::App& cli, CheckOptions& o) {
    CLI::App* c = cli.add_subcommand("check", "Check the set-up");
    c->add_option("JOB", o.job, "job file")->required();
    c->add_flag("--json", o.json, "answer as JSON");
    c->add_flag("--timing", o.timing, "say on standard error how long it took");
}

void add_sheets(CLI::App& cli, SheetsOptions& o) {
    CLI::App* c = cli.add_subcommand("sheets", "Write the set-up drawing");
    c->add_option("JOB", o.job, "job file")->required();
    c->add_option("-o,--out", o.out, "OUT.pdf, or OUT.svg for one file a page (OUT-01.svg, …)")->required();
    c->add_option("--paper", o.paper, "A4, A3, letter or tabloid; else the job's");
    c->add_option("--units", o.units, "mm or in; else the job's");
}

void add_shelf(CLI::App& cli, ShelfOptions& o) {
    CLI::App* c = cli.add_subcommand("shelf", "List the components that fit the job's table, and how many there are");
    c->add_option("JOB", o.job, "job file")->required();
}

void add_not_yet(CLI::App& cli, NotYet& o) {
    CLI::App* plan = cli.add_subcommand("plan", "Propose a set-up (not in this version)");
    CLI::App* cutlist = cli.add_subcommand("cutlist", "Write the cut list (not in this version)");
    CLI::App* model = cli.add_subcommand("export", "Write the set-up as a model (not in this version)");
    for (CLI::App* c : {plan, cutlist, model}) {
        c->add_option("FILE", o.arguments, "STEP or job file")->required();
        c->add_option("-o,--out", o.out, "file to write");
    }
    plan->add_option("--table", o.table, "table");
    plan->add_option("--shelf", o.shelf, "shelf");
    plan->add_option("--for", o.purpose, "tack or weld");
    plan->add_flag("--other-hand", o.other_hand, "mirrored");
    plan->add_flag("--json", o.json, "answer as JSON");
}

/// `platform`: what the environment says of the display, "" nothing.
int show_window(const Console& console, char** argv, const Options& options, const std::string& platform) {
    std::error_code ignored;
    if (!options.to_open.empty() && !std::filesystem::exists(options.to_open, ignored))
        return console.fail(base::bad_input({"cli.no_command", {{"word", options.to_open}}}));
    // The solid view needs X11; elsewhere one must ask for another platform by name.
    const std::string chosen = platform.empty() ? "xcb" : platform;
    if (chosen.starts_with("xcb") && !display_answers()) {
        const char* display = std::getenv("DISPLAY");
        return console.fail(display && *display ? base::bad_input({"cli.display_silent", {{"display", display}}})
                                                : base::bad_input({"cli.no_display", {}}));
    }
    ::setenv("QT_QPA_PLATFORM", chosen.c_str(), 1);
    return run_window(1, argv, options.to_open, options.plan_only);
}

int run_command(const Console& console, const CLI::App& cli, const Options& options) {
    const std::string name = cli.get_subcommands().front()->get_name();
    if (name == "inspect") return inspect(console, options.inspect);
    if (name == "new") return create(console, options.create);
    if (name == "lay") return lay(console, options.lay);
    if (name == "place") return place(console, options.place);
    if (name == "remove") return remove(console, options.remove);
    if (name == "set") return set(console, options.set);
    if (name == "check") return check(console, options.check);
    if (name == "sheets") return sheets(console, options.sheets);
    if (name == "shelf") return shelf(console, options.shelf);
    return console.fail({base::ErrorKind::not_yet, {"cli.not_yet_command", {{"command", name}}}});
}

/// One sentence for a command that cannot be understood; the library's own words are for programmers.
base::Text misuse(const CLI::App& cli, const CLI::ParseError& error) {
    const CLI::App* command = cli.get_subcommands().empty() ? &cli : cli.get_subcommands().front();
    const std::string name = command == &cli ? "" : command->get_name() + " ";
    const std::string said = error.what();
    if (dynamic_cast<const CLI::ExtrasError*>(&error)) {
        const std::vector<std::string> left = cli.remaining(true);
        return {"cli.not_expected", {{"word", left.empty() ? "" : left.front()}, {"command", name}}};
    }
    if (dynamic_cast<const CLI::ConversionError*>(&error))
        return {"cli.not_a_number", {{"said", said.substr(said.find(": ") + 2)}, {"command", name}}};
    if (dynamic_cast<const CLI::ArgumentMismatch*>(&error))
        return {"cli.no_value", {{"option", said.substr(0, said.find(':'))}, {"command", name}}};
    if (dynamic_cast<const CLI::RequiredError*>(&error))
        return {"cli.missing", {{"what", said.substr(0, said.find(' '))}, {"command", name}}};
    return {"cli.not_understood", {{"reason", said}, {"command", name}}};
}

/// A closed standard stream would hand its number to the next file that is opened, and an answer be written into it.
void keep_standard_streams() {
    for (const int stream : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
        if (::fcntl(stream, F_GETFD) < 0 && ::open("/dev/null", stream == STDIN_FILENO ? O_WRONLY : O_RDONLY) < 0)
            std::_Exit(exit_bad_input);
}

}  // namespace

int run(int argc, char** argv) {
    keep_standard_streams();
    // Every command works without a display, whatever the environment says.
    const char* in_environment = std::getenv("QT_QPA_PLATFORM");
    const std::string platform = in_environment ? in_environment : "";
    ::setenv("QT_QPA_PLATFORM", "offscreen", 1);
    const Console console(base::TextCatalogue::load(base::resource_dir() + "/translations/en"));
    if (console.texts().sentences().empty()) {
        std::cerr << "The folder " << base::resource_dir()
                  << " does not hold Setwright's files: install Setwright again.\n";
        return exit_bad_input;
    }

    CLI::App cli("Plans how a weldment is held on a hole-grid welding table and prints the set-up drawing.",
                 "setwright");
    cli.set_version_flag("--version", "setwright " SETWRIGHT_VERSION);
    cli.require_subcommand(0, 1);
    Options options;
    cli.add_option("FILE", options.to_open, "job or STEP file to open in the window");
    cli.add_flag("--plan", options.plan_only, "the window without its solid view, where OpenGL makes trouble");
    add_inspect(cli, options.inspect);
    add_new(cli, options.create);
    add_lay(cli, options.lay);
    add_place(cli, options.place);
    add_remove(cli, options.remove);
    add_set(cli, options.set);
    add_check(cli, options.check);
    add_sheets(cli, options.sheets);
    add_shelf(cli, options.shelf);
    add_not_yet(cli, options.not_yet);
    try {
        cli.parse(argc, argv);
    } catch (const CLI::Success& asked) {
        return cli.exit(asked) == 0 ? exit_good : exit_bug;
    } catch (const CLI::ParseError& error) {
        return console.fail(base::bad_input(misuse(cli, error)));
    }
    try {
        if (cli.get_subcommands().empty()) return show_window(console, argv, options, platform);
        const int code = run_command(console, cli, options);
        std::cout.flush();
        if (!std::cout) return console.fail(base::bad_input({"cli.answer_lost", {}}));
        return code;
    } catch (const std::exception& error) {
        std::cerr << "setwright: our mistake, not yours: " << error.what() << '\n';
        return exit_bug;
    }
}

}  // namespace setwright::app
