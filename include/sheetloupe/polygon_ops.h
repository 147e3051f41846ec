// Polygons with holes: unions, differences, growing and shrinking, by GEOS. All in sheet mm.
#pragma once

#include <vector>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

/// Disjoint polygons with holes; empty: nothing.
using Region = std::vector<Polygon>;

/// Everything covered by any of the polygons. Rings that cross themselves are mended by the even-odd rule.
Region unite(const Region& region);
/// What `region` covers and `barred` does not.
Region subtract(const Region& region, const Region& barred);
Region intersect(const Region& a, const Region& b);

/// Every place within `distance_mm` of the region, and up to 0.02 % of the distance more: round corners are drawn as
/// polygons that contain the true arc. `distance_mm` >= 0.
Region grow(const Region& region, double distance_mm);
/// Every place of each polygon at least `distance_mm` from its own border; exact for convex polygons, elsewhere up to
/// 0.02 % of the distance less. Each polygon is shrunk on its own, so two that touch stay two.
Region shrink(const Region& region, double distance_mm);

/// Fewer points: never farther than `tolerance_mm` from the given border.
Region simplify(const Region& region, double tolerance_mm);
/// Outer ring of the smallest convex set around all; empty when the region is.
Ring convex_hull(const Region& region);

double area_mm2(const Region& region);
double perimeter_mm(const Ring& ring);
/// True when the ring turns one way only, within rounding.
bool is_convex(const Ring& ring);

}  // namespace sheetloupe
