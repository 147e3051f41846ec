#include "placement/bounds.h"

#include <algorithm>
#include <cmath>

namespace sheetloupe::placement {
namespace {

const double kRoot3 = std::sqrt(3.0);

// N. Oler, An inequality in the geometry of numbers, Acta Math. 105 (1961): points at mutual distance >= S in a convex
// region of area A and perimeter P number at most 2A / (sqrt(3) S^2) + P / (2S) + 1.
double oler(const Region& region, double s) {
  const Ring hull = convex_hull(region);
  return 2 * area_mm2(hull) / (kRoot3 * s * s) + perimeter_mm(hull) / (2 * s) + 1;
}

// Voronoi cells cut at radius S / sqrt(3) are disjoint, lie in the region grown by that much, and have an area of at
// least sqrt(3) / 2 S^2 each: at most six full chords fit, and their segments do not overlap within that circle.
double hexagons(const Region& region, double s) { return area_mm2(grow(region, s / kRoot3)) / (kRoot3 / 2 * s * s); }

}  // namespace

int most_points(const Region& region, double s) {
  if (region.empty()) return 0;
  double parts = 0.0;
  for (const Polygon& part : region) parts += std::floor(oler({part}, s) + 1e-9);
  return static_cast<int>(std::floor(std::min({oler(region, s), parts, hexagons(region, s)}) + 1e-9));
}

}  // namespace sheetloupe::placement
