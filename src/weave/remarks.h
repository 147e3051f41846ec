// What a maker reads from the weave's maps, in words.
#pragma once

#include <string>
#include <vector>

#include "sheetloupe/weave.h"

namespace sheetloupe::weave {

/// The single worst place is picked for its error, too: the turn there lies within so many times the 95 % figure of one
/// reading in 94 of 100 generated photos.
constexpr double kWorstOfMany = 2.0;

/// The worst places of direction and of tow spacing with their positions, worst first, and how the weave runs to the
/// sheet's top side. Only what stands out of its own uncertainty is said.
std::vector<std::string> remarks_of(const WeaveAnalysis& weave);

}  // namespace sheetloupe::weave
