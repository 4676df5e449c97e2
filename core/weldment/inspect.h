#pragma once

#include <string>

#include "core/base/text.h"
#include "core/weldment/recognise.h"

namespace setwright::weldment {

/// The `inspect` answer of the JSON contract: format "setwright-inspect", version 1, keys in a fixed order, numbers
/// rounded to 1e-6, texts rendered with `texts`.
std::string inspect_json(const Weldment& weldment, const base::TextCatalogue& texts);

/// "square tube 50 mm × 50 mm × 3 mm", "mitre 45°", as a person reads them.
base::Text section_text(const Section& section);
base::Text end_text(const EndCut& end);

}  // namespace setwright::weldment
