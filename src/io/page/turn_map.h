// The weave's turn over the face as a coloured map with labelled contours, and as exaggerated tow lines.
#pragma once

#include <string>

#include "io/page/html.h"

namespace sheetloupe::page {

/// Degrees at the upper end of the colour scale: the largest turn on the grid, rounded up; at least 2.
int turn_scale_deg(const Json& reading);

/// SVG of the map in sheet mm: colour by cividis (no hue a colour-blind reader would mix up) and contours every other
/// degree or wider.
std::string turn_map(const Json& reading);

/// SVG of short lines along both tow sets, each turned four times as far from its mean as it is.
std::string tow_lines(const Json& weave);

}  // namespace sheetloupe::page
