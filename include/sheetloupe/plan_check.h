// A plan held against the usable map by geometry of its own: it shares no code with the search.
#pragma once

#include <string>
#include <vector>

#include "sheetloupe/placement.h"

namespace sheetloupe {

/// Every rule that a blank of the plan breaks by more than 1e-6 mm, one sentence each; empty when the plan is good.
std::vector<std::string> check_plan(const UsableMap& map, const Orders& orders, const PlacementOptions& options,
                                    const Plan& plan);

}  // namespace sheetloupe
