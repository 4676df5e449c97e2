#pragma once

#include <string>

#include "core/base/result.h"

namespace setwright::space {

/// The answer of a helper that could not do its work; decode() gives the same error back.
std::string encode_error(const base::Error& error);

}  // namespace setwright::space
