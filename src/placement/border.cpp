#include "placement/border.h"

#include <cmath>

namespace sheetloupe::placement {
namespace {

double turned_area(const Ring& ring) {
  double sum = 0.0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const SheetPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    sum += (a.x - ring[0].x) * (b.y - ring[0].y) - (a.y - ring[0].y) * (b.x - ring[0].x);
  }
  return sum;
}

void add_ring(const Ring& ring, bool hole, std::vector<BorderEdge>& edges) {
  const double side = (turned_area(ring) > 0.0) != hole ? 1.0 : -1.0;
  const std::size_t first = edges.size();
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const SheetPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    const double x = b.x - a.x, y = b.y - a.y, length = std::hypot(x, y);
    if (length <= 0.0) continue;
    const SheetPoint normal{-side * y / length, side * x / length};
    edges.push_back({a, b, normal, normal, normal});
  }
  const std::size_t n = edges.size() - first;
  for (std::size_t i = 0; i < n; ++i) {
    BorderEdge &here = edges[first + i], &next = edges[first + (i + 1) % n];
    const SheetPoint corner{here.along.x + next.along.x, here.along.y + next.along.y};
    here.at_b = next.at_a = corner;
  }
}

}  // namespace

std::vector<BorderEdge> border_of(const Region& region) {
  std::vector<BorderEdge> edges;
  for (const Polygon& polygon : region) {
    add_ring(polygon.outer, false, edges);
    for (const Ring& hole : polygon.holes) add_ring(hole, true, edges);
  }
  return edges;
}

}  // namespace sheetloupe::placement
