// One mark for each thing, the same in key, tables and picture.
#pragma once

#include <string>

namespace sheetloupe::page {

/// The fills of marks: "p-..." keeps its size on the picture at any zoom (the script scales it), "k-..." is for
/// swatches.
std::string pattern_definitions();

/// The swatch of a layer as a 40 x 26 drawing.
std::string swatch(const std::string& layer);

/// The layer of a defect kind: "dry_spot" -> "dry".
const char* layer_of_defect(const std::string& kind);

}  // namespace sheetloupe::page
