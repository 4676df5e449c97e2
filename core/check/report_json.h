#pragma once

#include <string>

#include "core/base/text.h"
#include "core/check/report.h"

namespace setwright::check {

/// The `check` answer of the JSON contract: format "setwright-check", version 1, keys in a fixed order, numbers rounded
/// to 1e-6, poses row by row, texts rendered with `texts`.
std::string report_json(const setup::Setup& setup, const Report& report, const base::TextCatalogue& texts);

}  // namespace setwright::check
