#pragma once

#include <functional>

#include "app/commands/commands.h"
#include "core/setup/job_file.h"

namespace setwright::app {

/// Opens the job and says its remarks.
base::Result<setup::Setup> open(const Console& console, const std::string& path);

/// The stage with this number on the drawing.
base::Result<setup::StageId> stage_id(const setup::Setup& setup, int number);
base::Result<setup::PlacementId> placement_id(const setup::Setup& setup, setup::StageId stage, int number);
/// By name or id number.
base::Result<setup::PieceId> piece_id(const setup::Setup& setup, const std::string& name);

/// Opens the job, edits it in its stage, saves it over the old one and says what the edit says.
struct Edited {
    setup::Setup setup;
    base::Text done;
};
int edit_job(const Console& console, const std::string& path, int stage,
             const std::function<base::Result<Edited>(const setup::Setup&, setup::StageId)>& edit);

}  // namespace setwright::app
