// The usable map: what the inspector hands to the blank placer (contract, section 5).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/units.h"

namespace sheetloupe {

enum class FeatureKind { outline, usable, defect, weave_zone, thin_zone, not_judged, taken };

struct MapFeature {
  FeatureKind kind = FeatureKind::outline;
  Polygon polygon;              // empty outer ring when the feature is a point
  std::optional<Circle> point;  // a pinhole: centre and half its diameter
  std::string id;               // "F1"; may be empty
  std::string defect;           // "dry_spot", "pinhole", "resin_rich"; only for defects
  std::string face;             // "front", "back" or ""
  std::optional<double> area_mm2;
  std::optional<double> thickness_mm;  // thin_zone
};

/// All in sheet mm, front frame.
struct UsableMap {
  std::string sheet_id;
  std::optional<double> thickness_mm;
  double position_u95_mm = 0.0;
  std::vector<MapFeature> features;
};

}  // namespace sheetloupe
