// Matchers for our own types.
#pragma once

#include <gmock/gmock.h>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

/// Within `tolerance_mm` of `expected` in straight-line distance.
MATCHER_P2(IsNearPoint, expected, tolerance_mm, "") { return distance_mm(arg, expected) <= tolerance_mm; }

/// Within `tolerance_deg` of the axis `expected`, across the 180-degree seam.
MATCHER_P2(IsNearAxis, expected, tolerance_deg, "") { return std::abs(arg.degrees_from(expected)) <= tolerance_deg; }

}  // namespace sheetloupe
