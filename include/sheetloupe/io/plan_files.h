// What `place` draws, as files (contract, section 7).
#pragma once

#include <filesystem>
#include <vector>

#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/template.h"

namespace sheetloupe {

/// drill-template.pdf, drill-template.svg and placement.png, to be written into `out` with the plan they belong to. The
/// picture shows the plan on the front face laid flat when `inspected`, the folder of the map, holds one; else on plain
/// ground. Throws InputError.
std::vector<FileDraft> plan_drawings(const UsableMap& map, const Plan& plan, const TemplateOptions& options,
                                     const std::filesystem::path& inspected, const std::filesystem::path& out);

}  // namespace sheetloupe
