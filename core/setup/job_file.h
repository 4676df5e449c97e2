#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/base/progress.h"
#include "core/base/result.h"
#include "core/setup/setup.h"

namespace setwright::setup {

/// Deterministic JSON (design §5): sorted ids, shortest round-trip numbers, STEP text packed with its SHA-256.
std::string job_json(const Setup& setup);

struct OpenedJob {
    Setup setup;
    /// One sentence each: linked STEP changed, component known only from the job, model read with doubts, …
    std::vector<base::Text> remarks;
};

/// Checks format, version, every key and type, every id that is referred to; migrates older versions, refuses newer
/// ones. Models are not imported yet (`WeldmentUse::model` is null).
base::Result<OpenedJob> parse_job(std::string_view json, const std::string& where);
/// Imports each weldment of the job through the helper and matches the pieces to the ids in the file.
base::Result<OpenedJob> open_job(const std::string& path, const base::Progress& job = {});
base::Result<void> save_job(const Setup& setup, const std::string& path);

/// Reads a STEP file into a weldment ready for a job.
base::Result<WeldmentUse> import_step(const std::string& path, const base::Progress& job = {});

/// What to know of a model as it was read, one sentence each: that it is large, that there are doubts.
std::vector<base::Text> import_remarks(const WeldmentUse& use);

}  // namespace setwright::setup
