#include "sheetloupe/plan_check.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace sheetloupe {
namespace {

constexpr double kRounding = 1e-6;

struct Reach {
  double least = std::numeric_limits<double>::infinity();
  double most = 0.0;
};

double to_segment(SheetPoint a, SheetPoint b, SheetPoint p) {
  const double length = distance_mm(a, b);
  if (length == 0.0) return distance_mm(a, p);
  const double along = ((p.x - a.x) * (b.x - a.x) + (p.y - a.y) * (b.y - a.y)) / length;
  if (along <= 0.0) return distance_mm(a, p);
  if (along >= length) return distance_mm(b, p);
  return std::abs((p.x - a.x) * (b.y - a.y) - (p.y - a.y) * (b.x - a.x)) / length;
}

double to_border(const Polygon& polygon, SheetPoint p) {
  double least = std::numeric_limits<double>::infinity();
  const auto ring = [&](const Ring& points) {
    for (std::size_t i = 0; i < points.size(); ++i)
      least = std::min(least, to_segment(points[i], points[(i + 1) % points.size()], p));
  };
  ring(polygon.outer);
  for (const Ring& hole : polygon.holes) ring(hole);
  return least;
}

// By winding angle, not by crossings.
bool covers(const Ring& ring, SheetPoint p) {
  double turn = 0.0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const SheetPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    const double ax = a.x - p.x, ay = a.y - p.y, bx = b.x - p.x, by = b.y - p.y;
    turn += std::atan2(ax * by - ay * bx, ax * bx + ay * by);
  }
  return std::abs(turn) > 3.0;
}

bool covers(const Polygon& polygon, SheetPoint p) {
  return covers(polygon.outer, p) &&
         std::none_of(polygon.holes.begin(), polygon.holes.end(), [&](const Ring& hole) { return covers(hole, p); });
}

Reach reach(const MapFeature& feature, SheetPoint p) {
  Reach r;
  if (feature.point) {
    const double d = distance_mm(feature.point->centre, p), radius = feature.point->radius.value();
    return {d - radius, d + radius};
  }
  for (const SheetPoint& q : feature.polygon.outer) r.most = std::max(r.most, distance_mm(p, q));
  r.least = covers(feature.polygon, p) ? 0.0 : to_border(feature.polygon, p);
  return r;
}

const RingOrder* ring_of(const Orders& orders, const Blank& blank) {
  for (const RingOrder& ring : orders.rings) {
    const bool same = ring.name == blank.ring && std::abs(ring.inner_diameter_mm - blank.inner_diameter_mm) < kRounding;
    if (same) return &ring;
  }
  return nullptr;
}

bool harmed_by(const MapFeature& f, const Orders& orders, const RingOrder& ring) {
  if (f.kind == FeatureKind::outline || f.kind == FeatureKind::usable) return false;
  if (f.kind == FeatureKind::thin_zone) return ring.width_mm + orders.face_allowance_mm > f.thickness_mm.value_or(0.0);
  if (f.kind == FeatureKind::defect && f.defect == "pinhole" && f.point && f.point->radius.value() > 0.0)
    return 2 * f.point->radius.value() > ring.accept_pinhole_mm + kRounding;
  return true;
}

void check_sheet(const UsableMap& map, const Orders& orders, const Blank& blank, std::vector<std::string>& broken) {
  const double needed = blank.saw_outer_mm / 2 + orders.edge_margin_mm;
  const bool held = std::any_of(map.features.begin(), map.features.end(), [&](const MapFeature& f) {
    return f.kind == FeatureKind::outline && covers(f.polygon, blank.centre) &&
           to_border(f.polygon, blank.centre) >= needed - kRounding;
  });
  if (!held) broken.push_back(blank.id + " is too near the sheet's edge");
}

void check_features(const UsableMap& map, const Orders& orders, const Blank& blank, const RingOrder& ring,
                    std::vector<std::string>& broken) {
  const double e = orders.turning_allowance_mm +
                   std::sqrt(map.position_u95_mm * map.position_u95_mm + orders.template_mm * orders.template_mm +
                             orders.drill_wander_mm * orders.drill_wander_mm);
  const double inner = blank.inner_diameter_mm / 2 - e, outer = blank.outer_diameter_mm / 2 + e;
  for (const MapFeature& f : map.features) {
    if (!harmed_by(f, orders, ring)) continue;
    const Reach r = reach(f, blank.centre);
    if (r.least < outer - kRounding && r.most > inner + kRounding)
      broken.push_back(blank.id + " takes material from " + (f.id.empty() ? "a barred place" : f.id));
  }
}

void check_places(const Orders& orders, const PlacementOptions& options, const Blank& blank,
                  std::vector<std::string>& broken) {
  const double saw = blank.saw_outer_mm / 2;
  for (const Circle& c : options.avoid) {
    if (distance_mm(c.centre, blank.centre) < c.radius.value() + saw - kRounding)
      broken.push_back(blank.id + " touches a place to be avoided");
  }
  for (const Circle& c : options.taken) {
    if (distance_mm(c.centre, blank.centre) < c.radius.value() + saw + orders.web_mm - kRounding)
      broken.push_back(blank.id + " is too near a hole already cut");
  }
}

}  // namespace

std::vector<std::string> check_plan(const UsableMap& map, const Orders& orders, const PlacementOptions& options,
                                    const Plan& plan) {
  std::vector<std::string> broken;
  for (std::size_t i = 0; i < plan.blanks.size(); ++i) {
    const Blank& blank = plan.blanks[i];
    const RingOrder* ring = ring_of(orders, blank);
    if (ring == nullptr) {
      broken.push_back(blank.id + " is no ring of the order");
      continue;
    }
    const double plug = blank.saw_outer_mm - 2 * blank.kerf_mm;
    if (plug < blank.outer_diameter_mm + 2 * orders.turning_allowance_mm - kRounding)
      broken.push_back(blank.id + " is cut by too small a saw");
    if (map.thickness_mm && ring->width_mm + orders.face_allowance_mm > *map.thickness_mm + kRounding)
      broken.push_back(blank.id + " is wider than the sheet is thick");
    check_sheet(map, orders, blank, broken);
    check_features(map, orders, blank, *ring, broken);
    check_places(orders, options, blank, broken);
    for (std::size_t j = 0; j < i; ++j) {
      const Blank& other = plan.blanks[j];
      const double needed = (blank.saw_outer_mm + other.saw_outer_mm) / 2 + orders.web_mm + 2 * orders.drill_wander_mm;
      if (distance_mm(blank.centre, other.centre) < needed - kRounding)
        broken.push_back(blank.id + " is too near " + other.id);
    }
  }
  for (const RingOrder& ring : orders.rings) {
    const auto placed =
        std::count_if(plan.blanks.begin(), plan.blanks.end(), [&](const Blank& b) { return b.ring == ring.name; });
    if (ring.count && placed > *ring.count) broken.push_back("more of " + ring.name + " than ordered");
  }
  return broken;
}

}  // namespace sheetloupe
