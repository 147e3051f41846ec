// How figures are written: rounded to what they can mean, null instead of NaN.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

using Json = nlohmann::ordered_json;

/// `value` to `digits` decimals; null when it is not finite.
inline Json figure(double value, int digits) {
  if (!std::isfinite(value)) return nullptr;
  const double k = std::pow(10.0, digits);
  const double rounded = std::round(value * k) / k;
  return rounded == 0.0 ? 0.0 : rounded;  // never -0.0
}

inline Json point_json(double x, double y, int digits) { return Json::array({figure(x, digits), figure(y, digits)}); }
inline Json point_json(SheetPoint p) { return point_json(p.x, p.y, 3); }
inline Json point_json(ImagePoint p) { return point_json(p.x, p.y, 3); }

template <class Points>
Json points_json(const Points& points) {
  Json list = Json::array();
  for (const auto& p : points) list.push_back(point_json(p));
  return list;
}

}  // namespace sheetloupe
