#include <algorithm>
#include <cmath>

#include "sheetloupe/polygon_ops.h"
#include "sheetloupe/usable_build.h"

namespace sheetloupe {
namespace {

bool bars_every_ring(FeatureKind kind) {
  return kind == FeatureKind::defect || kind == FeatureKind::weave_zone || kind == FeatureKind::not_judged ||
         kind == FeatureKind::taken;
}

// A polygon of 24 sides round the circle: 1.7 % more than its area.
Polygon around(const Circle& circle) {
  constexpr int kSides = 24;
  const double radius = circle.radius.value() / std::cos(M_PI / kSides);
  Polygon polygon;
  for (int i = 0; i < kSides; ++i) {
    const double a = 2 * M_PI * i / kSides;
    polygon.outer.push_back({circle.centre.x + radius * std::cos(a), circle.centre.y + radius * std::sin(a)});
  }
  return polygon;
}

Region outlines(const UsableMap& map) {
  Region region;
  for (const MapFeature& f : map.features) {
    if (f.kind == FeatureKind::outline) region.push_back(f.polygon);
  }
  return unite(region);
}

}  // namespace

std::vector<Polygon> usable_region(const UsableMap& map) {
  Region barred;
  for (const MapFeature& f : map.features) {
    if (bars_every_ring(f.kind)) barred.push_back(f.point ? around(*f.point) : f.polygon);
  }
  return subtract(outlines(map), unite(barred));
}

UsableShare usable_share(const UsableMap& map) {
  const double whole = area_mm2(outlines(map)), left = area_mm2(usable_region(map));
  return {left, whole > 0 ? left / whole : 0.0};
}

double usable_fraction_u95(const UsableMap& map, const std::vector<DefectAnalysis>& faces) {
  // Sizes of different defects are measured apart from each other: their variances add.
  double squares = 0;
  for (const DefectAnalysis& face : faces) {
    for (const Defect& defect : face.items) squares += defect.area_u95_mm2 * defect.area_u95_mm2;
  }
  const double whole = area_mm2(outlines(map));
  return whole > 0 ? std::sqrt(squares) / whole : 0.0;
}

void add_usable_features(UsableMap& map) {
  // Drawn, not cut: a slip of a square millimetre between two pixels' corners says nothing to anybody.
  constexpr double kLeastMm2 = 1.0;
  for (Polygon& part : usable_region(map)) {
    MapFeature feature;
    feature.kind = FeatureKind::usable;
    feature.area_mm2 = area_mm2(Region{part});
    feature.polygon = std::move(part);
    if (*feature.area_mm2 >= kLeastMm2) map.features.push_back(std::move(feature));
  }
}

}  // namespace sheetloupe
