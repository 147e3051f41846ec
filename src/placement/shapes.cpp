#include "placement/shapes.h"

#include <algorithm>
#include <limits>

#include "sheetloupe/polygon_ops.h"

namespace sheetloupe::placement {
namespace {

// Maps from pixels carry long staircases. Beyond this many points the border is replaced by one that lies a little
// outside: 0.06 mm of room, against distances to hundreds of edges.
constexpr std::size_t kManyPoints = 48;
constexpr double kSlack = 0.03;

Circle through(SheetPoint a, SheetPoint b) { return {{(a.x + b.x) / 2, (a.y + b.y) / 2}, Mm(distance_mm(a, b) / 2)}; }

Circle through(SheetPoint a, SheetPoint b, SheetPoint c) {
  const double bx = b.x - a.x, by = b.y - a.y, cx = c.x - a.x, cy = c.y - a.y;
  const double d = 2 * (bx * cy - by * cx);
  if (std::abs(d) < 1e-12) return {a, Mm(0.0)};
  const double b2 = bx * bx + by * by, c2 = cx * cx + cy * cy;
  const double x = (cy * b2 - by * c2) / d, y = (bx * c2 - cx * b2) / d;
  return {{a.x + x, a.y + y}, Mm(std::hypot(x, y))};
}

bool holds(const Circle& circle, SheetPoint p) { return distance_mm(circle.centre, p) <= circle.radius.value() + 1e-9; }

bool ring_nearer_than(const Ring& ring, SheetPoint c, double mm) {
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const SheetPoint q = nearest_on_segment(ring[i], ring[i + 1 == ring.size() ? 0 : i + 1], c);
    if (apart2(q, c) < mm * mm) return true;
  }
  return false;
}

void nearest_on_ring(const Ring& ring, SheetPoint c, double& best2, SheetPoint& near) {
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const SheetPoint q = nearest_on_segment(ring[i], ring[i + 1 == ring.size() ? 0 : i + 1], c);
    const double d2 = apart2(q, c);
    if (d2 < best2) {
      best2 = d2;
      near = q;
    }
  }
}

}  // namespace

// Grown point by point (Welzl, Smallest enclosing disks, 1991), without the shuffle: rings here are short.
Circle smallest_circle(const Ring& points) {
  if (points.empty()) return {};
  Circle circle{points[0], Mm(0.0)};
  for (std::size_t i = 1; i < points.size(); ++i) {
    if (holds(circle, points[i])) continue;
    circle = {points[i], Mm(0.0)};
    for (std::size_t j = 0; j < i; ++j) {
      if (holds(circle, points[j])) continue;
      circle = through(points[i], points[j]);
      for (std::size_t k = 0; k < j; ++k) {
        if (!holds(circle, points[k])) circle = through(points[i], points[j], points[k]);
      }
    }
  }
  return circle;
}

Obstacle obstacle_of(const MapFeature& feature) {
  Obstacle o;
  o.kind = feature.kind;
  o.id = feature.id;
  o.pinhole = feature.defect == "pinhole";
  o.thickness_mm = feature.thickness_mm.value_or(0.0);
  if (feature.point) {
    o.around = *feature.point;
    return o;
  }
  o.polygon = feature.polygon;
  std::size_t points = o.polygon.outer.size();
  for (const Ring& hole : o.polygon.holes) points += hole.size();
  if (points > kManyPoints) {
    const Region wider = simplify(grow({o.polygon}, kSlack), kSlack);
    if (wider.size() == 1) o.polygon = wider.front();
  }
  o.hull = convex_hull({o.polygon});
  if (o.hull.empty()) o.hull = o.polygon.outer;  // a polygon without area: a line
  o.around = smallest_circle(o.hull);
  return o;
}

Reach reach(const Obstacle& o, SheetPoint c) {
  Reach r;
  if (o.round()) {
    const double d = std::sqrt(apart2(c, o.around.centre));
    r.least = d - o.around.radius.value();
    r.most = d + o.around.radius.value();
    r.near = r.far = o.around.centre;
    return r;
  }
  double best2 = std::numeric_limits<double>::infinity();
  nearest_on_ring(o.polygon.outer, c, best2, r.near);
  for (const Ring& hole : o.polygon.holes) nearest_on_ring(hole, c, best2, r.near);
  r.least = std::sqrt(best2);
  if (contains(o.polygon, c)) r.least = -r.least;
  double far2 = -1.0;
  for (const SheetPoint& p : o.hull) {
    const double d2 = apart2(p, c);
    if (d2 > far2) {
      far2 = d2;
      r.far = p;
    }
  }
  r.most = std::sqrt(far2);
  return r;
}

bool nearer_than(const Obstacle& o, SheetPoint c, double mm) {
  const double d2 = apart2(c, o.around.centre), r = o.around.radius.value();
  if (o.round()) return d2 < (r + mm) * (r + mm);
  // The smallest circle holds its corners within a rounding.
  const double all = r + 1e-6;
  if (d2 > (all + mm) * (all + mm)) return false;
  if (ring_nearer_than(o.polygon.outer, c, mm)) return true;
  for (const Ring& hole : o.polygon.holes) {
    if (ring_nearer_than(hole, c, mm)) return true;
  }
  return d2 < all * all && contains(o.polygon, c);
}

bool reaches_beyond(const Obstacle& o, SheetPoint c, double mm) {
  if (mm < 0.0) return true;
  if (o.round()) return std::sqrt(apart2(c, o.around.centre)) + o.around.radius.value() > mm;
  return std::any_of(o.hull.begin(), o.hull.end(), [&](SheetPoint p) { return apart2(p, c) > mm * mm; });
}

}  // namespace sheetloupe::placement
