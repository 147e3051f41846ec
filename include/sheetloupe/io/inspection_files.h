// What `inspect` leaves behind (contract, section 4): report.json, maps, flat pictures, the usable map.
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "sheetloupe/grade.h"
#include "sheetloupe/inspect.h"
#include "sheetloupe/io/sheet_folder.h"
#include "sheetloupe/io/stage_times.h"

namespace sheetloupe {

/// Decodes the folder's photos. Throws InputError for the first that cannot be read.
InspectInput load_inspect_input(const SheetFolder& folder);

/// Text of models/plies.txt; empty when it is not there.
std::string ply_weights();

/// Options that follow from sheet.json and the rubric.
InspectOptions options_for(const SheetFacts& facts, const Rubric& rubric);

/// Writes everything into `out`, report.json and the page last, each file whole or not at all. `input`: the photos, for
/// the overlays. With `times`, times.json tells where the time went up to the writing, and the page with it. Gives what
/// report.json holds, the grade included.
nlohmann::ordered_json write_inspection(const Inspection& inspection, const InspectInput& input,
                                        const SheetFacts& facts, const Rubric& rubric, const std::filesystem::path& out,
                                        StageTimes* times = nullptr);

}  // namespace sheetloupe
