#pragma once

#include <string>

#include "core/sheet/drawing.h"

namespace setwright::sheet {

/// One page as SVG in true millimetres.
std::string svg(const Page& page);

}  // namespace setwright::sheet
