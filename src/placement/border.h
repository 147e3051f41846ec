// The border of a region as directed edges that know their inner side.
#pragma once

#include <vector>

#include "placement/shapes.h"
#include "sheetloupe/polygon_ops.h"

namespace sheetloupe::placement {

/// The inner side about an edge's interior and its two ends. At an end the sum of both edges' unit normals tells inside
/// from outside for every point whose nearest point is that end (Baerentzen and Aanaes, Signed distance computation
/// using the angle weighted pseudonormal, IEEE TVCG 11, 2005; in the plane the angles play no part).
struct BorderEdge {
  SheetPoint a, b;
  SheetPoint along, at_a, at_b;  // not all of unit length
};

/// Edges of no length are left out.
std::vector<BorderEdge> border_of(const Region& region);

/// Where a border is nearest to a point so far.
struct Nearest {
  double distance2 = std::numeric_limits<double>::infinity();
  SheetPoint point;
  bool inside = false;
};

inline void nearest_on_edge(const BorderEdge& edge, SheetPoint c, Nearest& best) {
  const double ux = edge.b.x - edge.a.x, uy = edge.b.y - edge.a.y, dx = c.x - edge.a.x, dy = c.y - edge.a.y;
  const double k = (dx * ux + dy * uy) / (ux * ux + uy * uy);
  const SheetPoint q = k <= 0.0 ? edge.a : k >= 1.0 ? edge.b : SheetPoint{edge.a.x + k * ux, edge.a.y + k * uy};
  const double x = c.x - q.x, y = c.y - q.y, distance2 = x * x + y * y;
  if (distance2 > best.distance2) return;
  const SheetPoint normal = k <= 0.0 ? edge.at_a : k >= 1.0 ? edge.at_b : edge.along;
  const bool inside = normal.x * x + normal.y * y >= 0.0;
  // Two rings that meet in one point must both have it inside.
  best.inside = inside && (distance2 < best.distance2 || best.inside);
  best.distance2 = distance2;
  best.point = q;
}

}  // namespace sheetloupe::placement
