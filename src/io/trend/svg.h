// The pictures of the trend page, drawn from the model.
#pragma once

#include <string>

#include "io/page/html.h"

namespace sheetloupe::trend_page_parts {

extern const char* const kTrendStyle;

std::string chart_svg(const Json& chart);
std::string range_svg(const Json& chart);
std::string bars_svg(const Json& bars, const std::string& label, int digits);
std::string density_svg(const Json& density);
std::string effect_svg(const Json& row);
std::string forecast_svg(const Json& forecast);

}  // namespace sheetloupe::trend_page_parts
