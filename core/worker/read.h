#pragma once

#include <string>

#include "core/base/result.h"
#include "core/space/bodies.h"

namespace setwright::worker {

/// Reads a STEP file with the CAD kernel, in the order of its assembly. For a process of its own: a damaged file may
/// end it.
base::Result<space::Bodies> read(const std::string& path);

}  // namespace setwright::worker
