#include <filesystem>

#include "app/commands/job.h"
#include "core/base/file.h"
#include "core/setup/edit.h"

namespace setwright::app {

namespace {

base::Result<shop::Table> find_table(const std::string& id) {
    base::Result<std::vector<shop::Table>> tables = shop::load_tables(base::resource_dir() + "/tables");
    if (!tables) return tables.error();
    std::string known;
    for (shop::Table& table : *tables) {
        if (table.id == id) return std::move(table);
        known += (known.empty() ? "" : ", ") + table.id;
    }
    // A shop's own table is a file of the same form.
    if (id.find('/') == std::string::npos && !id.ends_with(".json"))
        return base::bad_input({"cli.no_table", {{"table", id}, {"known", known}}});
    const base::Result<std::string> text = base::read_file(id);
    if (!text) return text.error();
    return shop::parse_table(*text, id);
}

base::Result<shop::Shelf> find_shelf(const std::string& id, const shop::Table& table) {
    if (id.empty()) return shop::load_shelf(base::resource_dir() + "/shelves/" + table.id + "-starter.json");
    if (id.find('/') == std::string::npos && !id.ends_with(".json"))
        return shop::load_shelf(base::resource_dir() + "/shelves/" + id + ".json");
    return shop::load_shelf(id);
}

}  // namespace

int create(const Console& console, const NewOptions& options) {
    std::error_code ignored;
    if (!options.force && std::filesystem::is_regular_file(options.job, ignored))
        return console.fail(base::bad_input({"cli.job_exists", {{"job", options.job}}}));
    base::Result<shop::Table> table = find_table(options.table);
    if (!table) return console.fail(table.error());
    base::Result<shop::Shelf> shelf = find_shelf(options.shelf, *table);
    if (!shelf) return console.fail(shelf.error());
    base::Result<setup::WeldmentUse> weldment = setup::import_step(options.file);
    if (!weldment) return console.fail(weldment.error());
    for (const base::Text& remark : setup::import_remarks(*weldment)) console.remark(remark);

    const setup::Setup setup = setup::new_job(std::move(*weldment), std::move(*table), std::move(*shelf));
    if (const base::Result<void> saved = setup::save_job(setup, options.job); !saved)
        return console.fail(saved.error());
    console.say({"cli.created",
                 {{"job", options.job},
                  {"pieces", static_cast<std::int64_t>(setup.stages.front().pieces.size())},
                  {"table", setup.table.name}}});
    return exit_good;
}

}  // namespace setwright::app
