// Ring sizes of the trade to an inside diameter; mm are the master.
#pragma once

#include <optional>
#include <string>

namespace sheetloupe {

/// ISO 8653:2016: the size is the inner circumference in mm.
double iso_diameter_mm(double size);
/// US and Canada: 0.458 in + 0.032 in a size (no governing standard; common tables depart by up to 0.11 mm).
double us_diameter_mm(double size);
/// JIS S 4700: size 1 is 13 mm, a third of a millimetre a size (second-hand source).
double jp_diameter_mm(double size);
/// UK letters "A" to "Z", halves as "P 1/2": A is 37.5 mm round, 1.25 mm a letter (second-hand source; published tables
/// differ by half a letter). None when it is no such size.
std::optional<double> uk_diameter_mm(const std::string& size);

}  // namespace sheetloupe
