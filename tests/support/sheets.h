// Sheets for the placement tests: outlines and defects from raw engine bits.
#pragma once

#include <cmath>
#include <numbers>
#include <random>

#include "sheetloupe/placement.h"

namespace sheetloupe {

inline MapFeature polygon_feature(FeatureKind kind, Ring ring, const std::string& id = "") {
  MapFeature f;
  f.kind = kind;
  f.polygon.outer = std::move(ring);
  f.id = id;
  if (kind == FeatureKind::defect) f.defect = "dry_spot";
  return f;
}

inline MapFeature pinhole_feature(SheetPoint at, double diameter_mm, const std::string& id) {
  MapFeature f;
  f.kind = FeatureKind::defect;
  f.defect = "pinhole";
  f.point = Circle{at, Mm(diameter_mm / 2)};
  f.id = id;
  return f;
}

inline UsableMap rectangle_sheet(double width, double height) {
  UsableMap map;
  map.sheet_id = "H-001";
  map.features.push_back(polygon_feature(FeatureKind::outline, {{0, 0}, {width, 0}, {width, height}, {0, height}}));
  return map;
}

/// A ring of `inner` x `wall` to be cut by a saw of `saw` with kerf 1.5, as many as fit.
inline Orders fill_orders(double saw, double inner = 18, double wall = 3, double kerf = 1.5) {
  Orders orders;
  RingOrder ring;
  ring.name = "stock";
  ring.inner_diameter_mm = inner;
  ring.wall_mm = wall;
  ring.width_mm = 5;
  orders.rings.push_back(ring);
  orders.saws.push_back({"saw", saw, kerf});
  return orders;
}

class Bits {
 public:
  explicit Bits(std::uint64_t seed) : engine_(seed) {}
  double from(double low, double high) {
    return low + (high - low) * static_cast<double>(engine_() >> 11U) * 0x1.0p-53;
  }

 private:
  std::mt19937_64 engine_;
};

inline Ring blob(Bits& bits, SheetPoint at, double mean_radius) {
  Ring ring;
  const double a = bits.from(0, 6.28), b = bits.from(0, 6.28);
  for (int i = 0; i < 14; ++i) {
    const double t = 2 * std::numbers::pi * i / 14;
    const double r = mean_radius * (1 + 0.25 * std::sin(2 * t + a) + 0.15 * std::sin(3 * t + b));
    ring.push_back({at.x + r * std::cos(t), at.y + r * std::sin(t)});
  }
  return ring;
}

/// Pinholes of 0.3 to 1.5 mm and lumpy dry spots of 3 to 12 mm mean radius.
inline UsableMap spoiled_sheet(std::uint64_t seed, double width, double height, int pinholes, int spots) {
  Bits bits(seed);
  UsableMap map = rectangle_sheet(width, height);
  for (int i = 0; i < pinholes; ++i)
    map.features.push_back(
        pinhole_feature({bits.from(0, width), bits.from(0, height)}, bits.from(0.3, 1.5), "P" + std::to_string(i)));
  for (int i = 0; i < spots; ++i) {
    const SheetPoint at{bits.from(0, width), bits.from(0, height)};
    map.features.push_back(
        polygon_feature(FeatureKind::defect, blob(bits, at, bits.from(3, 12)), "D" + std::to_string(i)));
  }
  return map;
}

}  // namespace sheetloupe
