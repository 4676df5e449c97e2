#include "app/commands/job.h"
#include "core/base/file.h"

namespace setwright::app {

int shelf(const Console& console, const ShelfOptions& options) {
    const base::Result<setup::Setup> setup = open(console, options.job);
    if (!setup) return console.fail(setup.error());
    const base::Result<shop::Catalogue> catalogue = shop::load_catalogue(base::resource_dir() + "/catalogue");
    if (!catalogue) return console.fail(catalogue.error());
    for (const auto& component : catalogue->components) {
        if (!shop::fits(*component, setup->table.hole_mm, setup->table.pitch_x_mm, setup->table.pitch_y_mm)) continue;
        int have = setup->shelf.have(component->id);
        if (component->handed)
            have = setup->shelf.have(component->id + ":left") + setup->shelf.have(component->id + ":right");
        // Loose clamps and packers fit every table; what the shop has none of is only in the way here.
        if (have == 0 && (component->nominal != setup->table.nominal || component->family == shop::Family::packer))
            continue;
        console.say({"cli.shelf_line",
                     {{"id", component->id},
                      {"name", std::vector{base::Text{std::string("family.") + shop::key(component->family), {}}}},
                      {"size", component->size},
                      {"have", std::int64_t{have}}}});
    }
    return exit_good;
}

}  // namespace setwright::app
