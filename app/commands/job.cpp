#include "app/commands/job.h"

#include "core/base/file.h"

namespace setwright::app {

base::Result<setup::Setup> open(const Console& console, const std::string& path) {
    base::Result<setup::OpenedJob> opened = setup::open_job(path);
    if (!opened) return opened.error();
    for (const base::Text& remark : opened->remarks) console.remark(remark);
    return std::move(opened->setup);
}

base::Result<setup::StageId> stage_id(const setup::Setup& setup, int number) {
    const int count = static_cast<int>(setup.stages.size());
    if (number < 1 || number > count)
        return base::bad_input({"cli.no_stage", {{"number", std::int64_t{number}}, {"count", std::int64_t{count}}}});
    return setup.stages[static_cast<std::size_t>(number - 1)].id;
}

base::Result<setup::PlacementId> placement_id(const setup::Setup& setup, setup::StageId stage, int number) {
    for (const setup::Placement& placement : setup.find_stage(stage)->placements)
        if (placement.no == number) return placement.id;
    return base::bad_input({"cli.no_block", {{"number", std::int64_t{number}}}});
}

base::Result<setup::PieceId> piece_id(const setup::Setup& setup, const std::string& name) {
    for (const setup::Stage& stage : setup.stages)
        for (const setup::PieceId piece : stage.pieces)
            if (setup.piece_name(piece) == name || std::to_string(piece.value) == name) return piece;
    return base::bad_input({"cli.no_piece", {{"name", name}}});
}

int edit_job(const Console& console, const std::string& path, int stage,
             const std::function<base::Result<Edited>(const setup::Setup&, setup::StageId)>& edit) {
    const base::FolderLock alone(path);
    const base::Result<setup::Setup> before = open(console, path);
    if (!before) return console.fail(before.error());
    const base::Result<setup::StageId> id = stage_id(*before, stage);
    if (!id) return console.fail(id.error());
    const base::Result<Edited> after = edit(*before, *id);
    if (!after) return console.fail(after.error());
    if (const base::Result<void> saved = setup::save_job(after->setup, path); !saved)
        return console.fail(saved.error());
    console.say(after->done, after->setup.display.unit);
    return exit_good;
}

}  // namespace setwright::app
