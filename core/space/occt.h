#pragma once

// Only for the .cpp files of core/space and core/worker that talk to the CAD kernel.

#include <Standard_Failure.hxx>
#include <TopoDS_Shape.hxx>
#include <exception>
#include <string>
#include <utility>

#include "core/base/result.h"
#include "core/space/solid.h"

class gp_Trsf;

namespace setwright::space {

struct Brep::Impl {
    TopoDS_Shape shape;
};

/// An empty shape gives an empty Brep.
Brep brep_of(const TopoDS_Shape& shape);
/// The shape at its pose; a null shape where the Brep is empty.
TopoDS_Shape shape_of(const Brep& brep, const Pose& X = {});
gp_Trsf trsf_of(const Pose& X);

inline base::Error kernel_error(const char* reason) {
    return base::bad_input(
        {"solid.kernel_failed", {{"reason", std::string(reason && *reason ? reason : "no reason given")}}});
}

/// Runs work on the kernel; what it throws becomes an error. In 7.6.3 Standard_Failure is no std::exception.
template <class Work>
auto guard(Work&& work) -> decltype(work()) {
    try {
        return std::forward<Work>(work)();
    } catch (const Standard_Failure& failure) {
        return kernel_error(failure.GetMessageString() && *failure.GetMessageString() ? failure.GetMessageString()
                                                                                      : failure.DynamicType()->Name());
    } catch (const std::exception& failure) {
        return kernel_error(failure.what());
    }
}

}  // namespace setwright::space
