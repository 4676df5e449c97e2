#include "core/sheet/pages.h"

#include <algorithm>

#include "core/sheet/scene.h"

namespace setwright::sheet {

std::optional<Paper> parse_paper(std::string_view text) {
    std::string lower(text);
    std::transform(lower.begin(), lower.end(), lower.begin(),
                   [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; });
    if (lower == "a4") return Paper::a4;
    if (lower == "a3") return Paper::a3;
    if (lower == "letter") return Paper::letter;
    if (lower == "tabloid") return Paper::tabloid;
    return std::nullopt;
}

base::Result<std::vector<Page>> set_up_pages(const setup::Setup& setup, const check::Report& report,
                                             const base::TextCatalogue& texts, const PageOptions& options) {
    const Job job{setup, report, texts, options};
    std::vector<Scene> scenes;
    for (const setup::Stage& stage : setup.stages) scenes.push_back(make_scene(job, stage));
    std::vector<Draft> drafts;
    for (const Scene& scene : scenes)
        for (const auto make : {overview, zones, placement_table, elevations, height_strip, by_hand})
            if (const auto made = make(job, scene, drafts); !made) return made.error();
    if (const auto made = pick_list(job, scenes, drafts); !made) return made.error();
    finish(job, drafts);
    std::vector<Page> pages;
    for (Draft& draft : drafts) pages.push_back(std::move(draft.page));
    return pages;
}

}  // namespace setwright::sheet
