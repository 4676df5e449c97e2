#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/check/report.h"
#include "core/sheet/drawing.h"

namespace setwright::sheet {

enum class Paper { a4, a3, letter, tabloid };
std::optional<Paper> parse_paper(std::string_view text);

struct PageOptions {
    Paper paper = Paper::a4;
    base::DisplayUnit unit;
};

/// The set-up drawing of every stage: overview plan, zones at 1:5 or larger, placement table, elevations of host faces,
/// height strip, pick list; title block, scale bar, model hash, page n of m on each; what fails first, above the
/// picture.
base::Result<std::vector<Page>> set_up_pages(const setup::Setup& setup, const check::Report& report,
                                             const base::TextCatalogue& texts, const PageOptions& options);

}  // namespace setwright::sheet
