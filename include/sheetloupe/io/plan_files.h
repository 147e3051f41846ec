// What `place` draws, as files (contract, section 7).
#pragma once

#include <filesystem>

#include "sheetloupe/io/template.h"

namespace sheetloupe {

/// Writes drill-template.pdf, drill-template.svg and placement.png into `out`. The picture shows the plan on the front
/// face laid flat when `inspected`, the folder of the map, holds one; else on plain ground. Throws InputError.
void write_plan_drawings(const UsableMap& map, const Plan& plan, const TemplateOptions& options,
                         const std::filesystem::path& inspected, const std::filesystem::path& out);

}  // namespace sheetloupe
