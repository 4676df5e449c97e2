#include "core/weldment/inspect.h"

#include "app/commands/job.h"

namespace setwright::app {

namespace {

void print_weldment(const Console& console, const weldment::Weldment& weldment) {
    for (const base::Text& doubt : weldment.doubts) console.say({"inspect.doubt", {{"doubt", std::vector{doubt}}}});
    for (const weldment::Piece& piece : weldment.pieces) {
        console.say({"inspect.piece",
                     {{"id", static_cast<std::int64_t>(piece.id.value)},
                      {"name", piece.name},
                      {"section", std::vector{weldment::section_text(piece.section)}},
                      {"length", base::LengthArg{piece.length_mm}},
                      {"first", std::vector{weldment::end_text(piece.ends[0])}},
                      {"last", std::vector{weldment::end_text(piece.ends[1])}},
                      {"mass", piece.mass_kg}}});
        for (const base::Text& doubt : piece.doubts) console.say({"inspect.doubt", {{"doubt", std::vector{doubt}}}});
    }
    for (const weldment::Seam& seam : weldment.seams) {
        const auto name = [&](weldment::PieceId id) { return weldment.find(id)->name; };
        console.say({"inspect.seam",
                     {{"id", static_cast<std::int64_t>(seam.id.value)},
                      {"kind", std::vector{base::Text{std::string("seam.") + weldment::key(seam.kind), {}}}},
                      {"a", name(seam.pieces[0])},
                      {"b", name(seam.pieces[1])},
                      {"length", base::LengthArg{seam.length_mm}},
                      {"gap", base::LengthArg{seam.gap_mm}}}});
        for (const base::Text& doubt : seam.doubts) console.say({"inspect.doubt", {{"doubt", std::vector{doubt}}}});
    }
    double mass_kg = 0;
    for (const weldment::Piece& piece : weldment.pieces) mass_kg += piece.mass_kg;
    const space::Vec3 size = weldment.box_M.size();
    console.say({"inspect.total",
                 {{"pieces", static_cast<std::int64_t>(weldment.pieces.size())},
                  {"seams", static_cast<std::int64_t>(weldment.seams.size())},
                  {"x", base::LengthArg{size.x()}},
                  {"y", base::LengthArg{size.y()}},
                  {"z", base::LengthArg{size.z()}},
                  {"mass", mass_kg}}});
}

}  // namespace

int inspect(const Console& console, const InspectOptions& options) {
    const base::Result<setup::WeldmentUse> use = setup::import_step(options.file);
    if (!use) return console.fail(use.error());
    if (options.json)
        console.print(weldment::inspect_json(*use->model, console.texts()));
    else
        print_weldment(console, *use->model);
    return exit_good;
}

}  // namespace setwright::app
