#pragma once

#include <TopoDS_Shape.hxx>
#include <gp_Trsf.hxx>

#include "weldment_model.h"

namespace setwright::samples {

/// The exact solid of a form, in its own frame P, mm. Throws std::runtime_error where the modeller
/// gives no valid single solid.
TopoDS_Shape solidOf(const Form& form);

/// The rigid motion that takes coordinates in `frame` to the coordinates `frame` is given in.
gp_Trsf motionOf(const Frame& frame);

}  // namespace setwright::samples
