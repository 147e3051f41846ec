// Words and figures as the page writes them.
#pragma once

#include <string>
#include <string_view>

#include "io/report/json_figures.h"

namespace sheetloupe::page {

/// Text made safe for HTML.
std::string escaped(std::string_view text);

/// A figure with `digits` decimals and a true minus sign; "cannot tell" when it is null.
std::string number(const Json& value, int digits);
std::string number(double value, int digits);

/// Value, its u95 in grey, unit: "240.1 <span>+-0.3</span> mm".
std::string measured(const Json& value, const Json& u95, int digits, const std::string& unit);

std::string base64(std::string_view bytes);

/// The first face of a role, or null.
const Json* face_of(const Json& report, std::string_view role);

/// An SVG path of a GeoJSON polygon's rings.
std::string path_of(const Json& polygon_coordinates);

}  // namespace sheetloupe::page
