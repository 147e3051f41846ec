// Orders that need less than the sheet: which straight strip of it holds them all.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "sheetloupe/usable.h"

namespace sheetloupe::placement {

enum class KeptSide { left, right, top, bottom };
inline constexpr std::array kSides = {KeptSide::left, KeptSide::right, KeptSide::top, KeptSide::bottom};

/// The map with only `share` (0 to 1) of its outlines' extent kept, measured from that side. Defects stay.
UsableMap strip_of(const UsableMap& map, KeptSide side, double share);

}  // namespace sheetloupe::placement
