#pragma once

#include <filesystem>

#include "weldment_model.h"

namespace setwright::samples {

/// How a model is laid out in its file: one product per distinct piece, or all solids in one product.
enum class Layout { Assembly, Lump };

/// Writes the model as an AP242 STEP file, mm. The bytes depend on the model and the layout alone: time
/// stamp and author fields are fixed. Throws std::runtime_error where the file cannot be written.
void writeStepFile(const WeldmentModel& model, Layout layout, const std::filesystem::path& file);

}  // namespace setwright::samples
