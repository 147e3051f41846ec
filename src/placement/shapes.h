// One connected barred place and its distances from a point. A connected set's distances from c fill the whole interval
// [least, most], so an annulus r_in..r_out about c misses it if and only if least > r_out or most < r_in.
#pragma once

#include <algorithm>
#include <limits>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/usable.h"

namespace sheetloupe::placement {

struct Obstacle {
  FeatureKind kind = FeatureKind::defect;
  std::string id;
  bool pinhole = false;
  double thickness_mm = 0.0;  // thin_zone
  Polygon polygon;            // empty for a round one
  Ring hull;                  // the farthest point is one of these
  Circle around;              // smallest circle around it; of a round one, itself

  bool round() const { return polygon.outer.empty(); }
};

/// `least` is negative inside. `near`, `far`: where least and most are taken.
struct Reach {
  double least = 0.0;
  double most = 0.0;
  SheetPoint near, far;
};

Obstacle obstacle_of(const MapFeature& feature);
Reach reach(const Obstacle& obstacle, SheetPoint c);
/// Whether reach's `least` is below `mm` (more than 0), its `most` above: told as soon as one edge, one corner is.
bool nearer_than(const Obstacle& obstacle, SheetPoint c, double mm);
bool reaches_beyond(const Obstacle& obstacle, SheetPoint c, double mm);

/// Of two points, squared: std::hypot guards against overflow that a sheet cannot cause, at five times the cost.
inline double apart2(SheetPoint a, SheetPoint b) {
  const double dx = a.x - b.x, dy = a.y - b.y;
  return dx * dx + dy * dy;
}

inline SheetPoint nearest_on_segment(SheetPoint a, SheetPoint b, SheetPoint p) {
  const double ux = b.x - a.x, uy = b.y - a.y, length2 = ux * ux + uy * uy;
  if (length2 <= 0.0) return a;
  const double k = std::clamp(((p.x - a.x) * ux + (p.y - a.y) * uy) / length2, 0.0, 1.0);
  return {a.x + k * ux, a.y + k * uy};
}
Circle smallest_circle(const Ring& points);

}  // namespace sheetloupe::placement
