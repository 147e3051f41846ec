// What a driller without a plan would lose, and to what: blanks at every place of the sheet, each held against every
// defect. Where a plan dodges a defect this still counts it, so it says what would be worth curing.
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "sheetloupe/grade.h"

namespace sheetloupe {
namespace {

std::string cause_of(const MapFeature& f) {
  switch (f.kind) {
    case FeatureKind::defect:
      return f.defect.empty() ? "defect" : f.defect;
    case FeatureKind::weave_zone:
      return "weave";
    case FeatureKind::not_judged:
      return "not_judged";
    case FeatureKind::taken:
      return "taken";
    default:
      return "";
  }
}

// A connected barred place: its distances from a point fill [nearest, farthest], so an annulus meets it when the two
// intervals meet.
struct Barrier {
  std::string cause;
  const MapFeature* feature = nullptr;
  SheetPoint low, high;  // bounding box

  bool meets(SheetPoint c, double inner, double outer) const {
    const double dx = std::max({low.x - c.x, 0.0, c.x - high.x}), dy = std::max({low.y - c.y, 0.0, c.y - high.y});
    if (std::hypot(dx, dy) > outer) return false;
    if (feature->point) {
      const double d = distance_mm(c, feature->point->centre), r = feature->point->radius.value();
      return d - r <= outer && d + r >= inner;
    }
    double farthest = 0.0;
    for (const SheetPoint& p : feature->polygon.outer) farthest = std::max(farthest, distance_mm(c, p));
    if (farthest < inner) return false;
    if (distance_to_ring_mm(feature->polygon.outer, c) <= outer) return true;
    if (!contains({feature->polygon.outer, {}}, c)) return false;
    // Well inside the outer ring: free only when the annulus lies in a hole.
    for (const Ring& hole : feature->polygon.holes)
      if (contains({hole, {}}, c) && distance_to_ring_mm(hole, c) > outer) return false;
    return true;
  }
};

std::vector<Barrier> barriers_of(const UsableMap& map) {
  std::vector<Barrier> barriers;
  for (const MapFeature& f : map.features) {
    Barrier b{cause_of(f), &f, {1e9, 1e9}, {-1e9, -1e9}};
    if (b.cause.empty()) continue;
    const auto include = [&](SheetPoint p, double r) {
      b.low = {std::min(b.low.x, p.x - r), std::min(b.low.y, p.y - r)};
      b.high = {std::max(b.high.x, p.x + r), std::max(b.high.y, p.y + r)};
    };
    if (f.point) include(f.point->centre, f.point->radius.value());
    for (const SheetPoint& p : f.polygon.outer) include(p, 0.0);
    barriers.push_back(std::move(b));
  }
  return barriers;
}

}  // namespace

std::vector<BarredShare> barred_shares(const UsableMap& map, double inner_radius_mm, double outer_radius_mm,
                                       double saw_radius_mm, double reach_mm, double step_mm) {
  const std::vector<Barrier> barriers = barriers_of(map);
  const double inner = std::max(0.0, inner_radius_mm - reach_mm), outer = outer_radius_mm + reach_mm;
  std::map<std::string, double> lost;
  int places = 0;
  for (const MapFeature& f : map.features) {
    if (f.kind != FeatureKind::outline || f.polygon.outer.empty()) continue;
    const Ring& ring = f.polygon.outer;
    const auto [x0, x1] = std::minmax_element(ring.begin(), ring.end(), [](auto& a, auto& b) { return a.x < b.x; });
    const auto [y0, y1] = std::minmax_element(ring.begin(), ring.end(), [](auto& a, auto& b) { return a.y < b.y; });
    const auto steps = [&](double length) { return static_cast<int>(std::ceil(length / step_mm - 0.5)); };
    const int rows = steps(y1->y - y0->y), columns = steps(x1->x - x0->x);
    for (int row = 0; row < rows; ++row) {
      for (int column = 0; column < columns; ++column) {
        const SheetPoint c{x0->x + (column + 0.5) * step_mm, y0->y + (row + 0.5) * step_mm};
        if (!contains(f.polygon, c) || distance_to_ring_mm(ring, c) < saw_radius_mm) continue;
        ++places;
        std::set<std::string> causes;
        for (const Barrier& b : barriers)
          if (!causes.contains(b.cause) && b.meets(c, inner, outer)) causes.insert(b.cause);
        for (const std::string& cause : causes) lost[cause] += 1.0 / static_cast<double>(causes.size());
      }
    }
  }
  std::vector<BarredShare> shares;
  for (const auto& [cause, count] : lost) shares.push_back({cause, 100.0 * count / places});
  std::stable_sort(shares.begin(), shares.end(), [](const auto& a, const auto& b) { return a.percent > b.percent; });
  return shares;
}

}  // namespace sheetloupe
