#include "placement/leftover.h"

#include <algorithm>

#include "sheetloupe/polygon_ops.h"

namespace sheetloupe::placement {

UsableMap strip_of(const UsableMap& map, KeptSide side, double share) {
  SheetPoint low{1e9, 1e9}, high{-1e9, -1e9};
  for (const MapFeature& f : map.features) {
    if (f.kind != FeatureKind::outline) continue;
    for (const SheetPoint& p : f.polygon.outer) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
  }
  const double width = (high.x - low.x) * share, height = (high.y - low.y) * share;
  if (side == KeptSide::left) high.x = low.x + width;
  if (side == KeptSide::right) low.x = high.x - width;
  if (side == KeptSide::top) high.y = low.y + height;
  if (side == KeptSide::bottom) low.y = high.y - height;
  const Region box{{{{low.x, low.y}, {high.x, low.y}, {high.x, high.y}, {low.x, high.y}}, {}}};
  UsableMap strip = map;
  strip.features.clear();
  for (const MapFeature& f : map.features) {
    if (f.kind != FeatureKind::outline) {
      strip.features.push_back(f);
      continue;
    }
    for (Polygon& part : intersect({f.polygon}, box)) {
      MapFeature kept = f;
      kept.polygon = std::move(part);
      strip.features.push_back(std::move(kept));
    }
  }
  return strip;
}

}  // namespace sheetloupe::placement
