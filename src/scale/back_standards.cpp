#include <algorithm>
#include <cmath>

#include "sheetloupe/scale.h"

namespace sheetloupe {
namespace {

// The diagonal from corner 2 to 4 of a convex four-sided shape with the diagonal `e` from 1 to 3: both triangles on `e`
// are fixed by their sides. Corner 1 lies at 0, corner 3 at e on the x axis; u is where a corner's foot falls on it.
std::optional<double> other_diagonal(const std::array<double, 4>& sides, double e) {
  const auto [top, right, bottom, left] = sides;
  const double u2 = (top * top - right * right + e * e) / (2 * e),
               u4 = (left * left - bottom * bottom + e * e) / (2 * e);
  const double v2 = top * top - u2 * u2, v4 = left * left - u4 * u4;  // squared heights
  if (e <= 0 || v2 < 0 || v4 < 0) return {};
  return std::hypot(u2 - u4, std::sqrt(v2) + std::sqrt(v4));
}

}  // namespace

LengthStandards seen_from_back(const LengthStandards& front, bool turned_left_right) {
  LengthStandards back = front;
  if (!front.sides_mm) return back;
  auto& sides = *back.sides_mm;
  if (turned_left_right) {
    std::swap(sides[1], sides[3]);
  } else {
    std::swap(sides[0], sides[2]);
  }
  if (front.diagonals_mm.size() == 2) std::swap(back.diagonals_mm[0], back.diagonals_mm[1]);
  if (front.diagonals_mm.size() == 1) {
    // The one measured runs from corner 2 to 4 there.
    const auto other = other_diagonal(*front.sides_mm, front.diagonals_mm[0]);
    back.diagonals_mm.clear();
    if (other) back.diagonals_mm.push_back(*other);
  }
  return back;
}

}  // namespace sheetloupe
