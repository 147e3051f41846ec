// What `inspect` leaves behind (contract, section 4): report.json, maps, flat pictures, the usable map.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sheetloupe/inspect.h"
#include "sheetloupe/io/sheet_folder.h"

namespace sheetloupe {

/// Decodes the folder's photos. Throws InputError for the first that cannot be read.
InspectInput load_inspect_input(const SheetFolder& folder);

/// Options that follow from sheet.json.
InspectOptions options_for(const SheetFacts& facts);

/// Writes everything into `out`, report.json last, each file whole or not at all. `input`: the photos, for the
/// overlays.
void write_inspection(const Inspection& inspection, const InspectInput& input, const SheetFacts& facts,
                      const std::filesystem::path& out);

}  // namespace sheetloupe
