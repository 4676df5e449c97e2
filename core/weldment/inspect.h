#pragma once

#include <string>

#include "core/base/text.h"
#include "core/weldment/recognise.h"

namespace setwright::weldment {

/// The `inspect` answer of the JSON contract: format "setwright-inspect", version 1, keys in a fixed order, numbers
/// rounded to 1e-6, texts rendered with `texts`.
std::string inspect_json(const Weldment& weldment, const base::TextCatalogue& texts);

}  // namespace setwright::weldment
