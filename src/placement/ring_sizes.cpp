#include "sheetloupe/ring_sizes.h"

#include <numbers>

namespace sheetloupe {

double iso_diameter_mm(double size) { return size / std::numbers::pi; }
double us_diameter_mm(double size) { return 25.4 * (0.458 + 0.032 * size); }
double jp_diameter_mm(double size) { return 13.0 + (size - 1.0) / 3.0; }

std::optional<double> uk_diameter_mm(const std::string& size) {
  if (size.empty() || size[0] < 'A' || size[0] > 'Z') return {};
  const std::string rest = size.substr(1);
  if (!rest.empty() && rest != " 1/2" && rest != "1/2") return {};
  return (37.5 + 1.25 * (size[0] - 'A' + (rest.empty() ? 0.0 : 0.5))) / std::numbers::pi;
}

}  // namespace sheetloupe
