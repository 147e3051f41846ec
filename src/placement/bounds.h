// What no plan can exceed.
#pragma once

#include "sheetloupe/polygon_ops.h"

namespace sheetloupe::placement {

/// Most points at mutual distance >= `spacing` in the region: the least of two bounds, summed over separate parts.
int most_points(const Region& region, double spacing_mm);

}  // namespace sheetloupe::placement
