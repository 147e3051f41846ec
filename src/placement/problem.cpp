#include "placement/problem.h"

#include <algorithm>
#include <cstdio>
#include <numeric>

#include "sheetloupe/errors.h"

namespace sheetloupe::placement {
namespace {

// Clearance is spent up to this far beyond e; more helps nobody who drills by hand.
constexpr double kSpare = 3.0;

std::string mm(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.2f mm", value);
  return text;
}

double outside_of(const RingOrder& ring) { return ring.inner_diameter_mm + 2 * ring.wall_mm; }

void check(const Orders& orders) {
  const auto positive = [](double value, const std::string& where, const char* what) {
    if (!(value > 0.0)) throw InputError({what, where, mm(value), "more than 0", "Correct the orders"});
  };
  for (const RingOrder& ring : orders.rings) {
    positive(ring.inner_diameter_mm, "ring " + ring.name, "the inner diameter is no length");
    positive(ring.wall_mm, "ring " + ring.name, "the wall is no length");
    positive(ring.width_mm, "ring " + ring.name, "the width is no length");
  }
  for (const HoleSaw& saw : orders.saws) {
    if (!(saw.outer_mm > 0.0) || saw.kerf_mm < 0.0 || 2 * saw.kerf_mm >= saw.outer_mm) {
      throw InputError({"a saw leaves no plug", "saw " + saw.name,
                        mm(saw.outer_mm) + " outside, kerf " + mm(saw.kerf_mm), "outside diameter above twice the kerf",
                        "Correct the saw"});
    }
  }
}

// Why a ring can be cut nowhere on this sheet; empty when it can.
std::string refusal(const UsableMap& map, const Orders& orders, const RingOrder& ring, const HoleSaw* saw) {
  if (map.thickness_mm && ring.width_mm + orders.face_allowance_mm > *map.thickness_mm + kRounding) {
    return "the ring is " + mm(ring.width_mm) + " wide and needs " + mm(ring.width_mm + orders.face_allowance_mm) +
           " of sheet with its face allowance; this sheet is " + mm(*map.thickness_mm) + " thick";
  }
  if (saw == nullptr) {
    double widest = 0.0;
    for (const HoleSaw& s : orders.saws) widest = std::max(widest, s.outer_mm - 2 * s.kerf_mm);
    return "the ring needs a plug of " + mm(outside_of(ring) + 2 * orders.turning_allowance_mm) +
           " with its turning allowance; the widest plug of these saws is " + mm(widest);
  }
  return "";
}

bool bars(const Obstacle& o, const RingOrder& ring, const Orders& orders) {
  if (o.kind == FeatureKind::outline || o.kind == FeatureKind::usable) return false;
  if (o.kind == FeatureKind::thin_zone) return ring.width_mm + orders.face_allowance_mm > o.thickness_mm + kRounding;
  // A size of 0 is a size not known.
  const bool small = o.kind == FeatureKind::defect && o.pinhole && o.around.radius.value() > 0.0;
  return !(small && 2 * o.around.radius.value() <= ring.accept_pinhole_mm + kRounding);
}

Polygon polygon_of(const Obstacle& o) {
  if (!o.round()) return o.polygon;
  // A speck of the same reach: grown later, it becomes the circle. The corners lie on the circle round the speck.
  Polygon speck;
  const double r = std::max(o.around.radius.value(), 1e-6);
  constexpr int kCorners = 96;
  for (int i = 0; i < kCorners; ++i) {
    const double turn = 2 * std::numbers::pi * i / kCorners, far = r / std::cos(std::numbers::pi / kCorners);
    speck.outer.push_back({o.around.centre.x + far * std::cos(turn), o.around.centre.y + far * std::sin(turn)});
  }
  return speck;
}

// Everything known to be barred for this kind: what is too large for the core leaves the region, the rest is tested
// against the annulus.
std::unique_ptr<Field> make_field(const Problem& problem, const Kind& kind, const UsableMap& map, const Orders& orders,
                                  const PlacementOptions& options) {
  Region region = centres_within(outline_of(map), kind.border);
  if (region.size() > 1) region = unite(region);
  const double saw_radius = kind.saw->outer_mm / 2;
  std::vector<Barrier> barriers;
  Region barred, holes;
  for (const Obstacle& o : *problem.obstacles) {
    if (!bars(o, *kind.ring, orders)) continue;
    if (o.kind == FeatureKind::taken) {
      const Region grown = grow({polygon_of(o)}, saw_radius + problem.between_mm);
      barred.insert(barred.end(), grown.begin(), grown.end());
    }
    Barrier barrier{&o, kind.inner, kind.outer, false};
    if (options.harm != Harm::annulus) barrier.inner = -1.0;
    if (options.harm == Harm::whole_circle) barrier.outer = std::max(kind.outer, saw_radius);
    if (o.around.radius.value() > barrier.inner && !o.round()) {
      const Region grown = grow({polygon_of(o)}, barrier.outer + kMargin);
      barred.insert(barred.end(), grown.begin(), grown.end());
      barrier.in_region = true;
    }
    barriers.push_back(barrier);
  }
  for (const Circle& c : options.avoid) {
    Obstacle o;
    o.around = c;
    const Region grown = grow({polygon_of(o)}, saw_radius);
    barred.insert(barred.end(), grown.begin(), grown.end());
  }
  for (const Circle& c : options.taken) {
    Obstacle o;
    o.around = c;
    const Region grown = grow({polygon_of(o)}, saw_radius + problem.between_mm);
    barred.insert(barred.end(), grown.begin(), grown.end());
  }
  if (!barred.empty()) region = subtract(region, barred);
  // Pixel borders leave hundreds of short edges; 0.02 mm of room buys a quick search.
  std::size_t points = 0;
  for (const Polygon& p : region) points += p.outer.size();
  if (points > 400) {
    const Region fewer = intersect(simplify(shrink(region, 0.02), 0.02), region);
    if (!fewer.empty()) region = fewer;
  }
  return std::make_unique<Field>(std::move(region), std::move(barriers), kSpare);
}

}  // namespace

const HoleSaw* choose_saw(const RingOrder& ring, const Orders& orders) {
  const double needed = outside_of(ring) + 2 * orders.turning_allowance_mm;
  const HoleSaw* best = nullptr;
  for (const HoleSaw& saw : orders.saws) {
    if (saw.outer_mm - 2 * saw.kerf_mm + kRounding < needed) continue;
    if (best == nullptr || saw.outer_mm < best->outer_mm) best = &saw;
  }
  return best;
}

Region outline_of(const UsableMap& map) {
  Region outline;
  for (const MapFeature& f : map.features) {
    if (f.kind == FeatureKind::outline && !f.point) outline.push_back(f.polygon);
  }
  return outline;
}

Region centres_within(const Region& outline, double border_mm) { return shrink(outline, border_mm - 1e-7); }

Obstacles obstacles_of(const UsableMap& map) {
  std::vector<Obstacle> obstacles;
  for (const MapFeature& feature : map.features) {
    if (feature.kind != FeatureKind::outline && feature.kind != FeatureKind::usable)
      obstacles.push_back(obstacle_of(feature));
  }
  return std::make_shared<const std::vector<Obstacle>>(std::move(obstacles));
}

Problem make_problem(const UsableMap& map, const Orders& orders, const PlacementOptions& options, Obstacles obstacles) {
  check(orders);
  Problem problem;
  problem.obstacles = std::move(obstacles);
  const bool outlined = std::any_of(map.features.begin(), map.features.end(),
                                    [](const MapFeature& f) { return f.kind == FeatureKind::outline; });
  if (!outlined)
    throw InputError({"the usable map has no outline", map.sheet_id, "", "a feature of kind \"outline\"", "Add it"});
  problem.position_mm = std::hypot(map.position_u95_mm, orders.template_mm, orders.drill_wander_mm);
  problem.between_mm = orders.web_mm + 2 * orders.drill_wander_mm;
  const double e = orders.turning_allowance_mm + problem.position_mm;
  for (const RingOrder& ring : orders.rings) {
    const HoleSaw* saw = choose_saw(ring, orders);
    const std::string why = refusal(map, orders, ring, saw);
    if (!why.empty()) {
      problem.refused.push_back({ring.name, ring.count.value_or(0), why});
      continue;
    }
    Kind kind{&ring, saw, ring.inner_diameter_mm / 2 - e, outside_of(ring) / 2 + e, 0.0, nullptr};
    kind.border = std::max(saw->outer_mm / 2 + orders.edge_margin_mm, kind.outer);
    kind.field = make_field(problem, kind, map, orders, options);
    problem.kinds.push_back(std::move(kind));
  }
  // Counted orders by priority, the larger saw first; then what fills, by value for the room it takes.
  std::stable_sort(problem.kinds.begin(), problem.kinds.end(), [](const Kind& a, const Kind& b) {
    if (a.ring->count.has_value() != b.ring->count.has_value()) return a.ring->count.has_value();
    if (!a.ring->count) {
      const double da = a.saw->outer_mm, db = b.saw->outer_mm;
      return a.ring->value / (da * da) > b.ring->value / (db * db);
    }
    if (a.ring->priority != b.ring->priority) return a.ring->priority < b.ring->priority;
    return a.saw->outer_mm > b.saw->outer_mm;
  });
  for (const Kind& a : problem.kinds) {
    problem.spacing.emplace_back();
    for (const Kind& b : problem.kinds) {
      problem.spacing.back().push_back((a.saw->outer_mm + b.saw->outer_mm) / 2 + problem.between_mm);
    }
  }
  return problem;
}

}  // namespace sheetloupe::placement
