#pragma once

#include <string>
#include <vector>

#include "core/base/result.h"
#include "core/sheet/drawing.h"

namespace setwright::app {

/// Writes the pages as one PDF in true size, font embedded, whole or not at all. Needs a QGuiApplication (the offscreen
/// platform is enough). Page boxes are rounded to whole points (at most 0.18 mm); the drawing's scale is not.
base::Result<void> write_pdf(const std::vector<sheet::Page>& pages, const std::string& path, const std::string& title);

}  // namespace setwright::app
