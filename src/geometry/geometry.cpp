#include "sheetloupe/geometry.h"

#include <algorithm>
#include <limits>

namespace sheetloupe {
namespace {

double signed_area_mm2(const Ring& ring) {
  double twice = 0.0;
  for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
    twice += ring[j].x * ring[i].y - ring[i].x * ring[j].y;
  }
  return twice / 2.0;
}

// Even-odd rule: a ray to +x crosses the ring an odd number of times from inside.
bool inside_ring(const Ring& ring, SheetPoint p) {
  bool inside = false;
  for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
    const SheetPoint a = ring[i], b = ring[j];
    if ((a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x) inside = !inside;
  }
  return inside;
}

double distance_to_segment_mm(SheetPoint a, SheetPoint b, SheetPoint p) {
  const double dx = b.x - a.x, dy = b.y - a.y;
  const double length2 = dx * dx + dy * dy;
  const double t = length2 > 0.0 ? std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / length2, 0.0, 1.0) : 0.0;
  return std::hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

}  // namespace

double wrap_axis_degrees(double degrees) {
  double wrapped = std::fmod(degrees, 180.0);
  if (wrapped < 0.0) wrapped += 180.0;
  return wrapped >= 180.0 ? 0.0 : wrapped;  // -1e-20 + 180 rounds to 180
}

double wrap_turn_degrees(double degrees) {
  const double wrapped = wrap_axis_degrees(degrees);
  return wrapped > 90.0 ? wrapped - 180.0 : wrapped;
}

double area_mm2(const Ring& ring) { return ring.size() < 3 ? 0.0 : std::abs(signed_area_mm2(ring)); }

double area_mm2(const Polygon& polygon) {
  double area = area_mm2(polygon.outer);
  for (const Ring& hole : polygon.holes) area -= area_mm2(hole);
  return area;
}

SheetPoint centroid(const Ring& ring) {
  if (ring.empty()) return {};
  const double area = ring.size() < 3 ? 0.0 : signed_area_mm2(ring);
  SheetPoint sum;
  if (std::abs(area) < 1e-12) {
    for (const SheetPoint& p : ring) sum = {sum.x + p.x, sum.y + p.y};
    return {sum.x / ring.size(), sum.y / ring.size()};
  }
  for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
    const double cross = ring[j].x * ring[i].y - ring[i].x * ring[j].y;
    sum = {sum.x + (ring[j].x + ring[i].x) * cross, sum.y + (ring[j].y + ring[i].y) * cross};
  }
  return {sum.x / (6.0 * area), sum.y / (6.0 * area)};
}

bool contains(const Polygon& polygon, SheetPoint point) {
  if (polygon.outer.size() < 3 || !inside_ring(polygon.outer, point)) return false;
  return std::none_of(polygon.holes.begin(), polygon.holes.end(),
                      [&](const Ring& hole) { return hole.size() >= 3 && inside_ring(hole, point); });
}

double distance_to_ring_mm(const Ring& ring, SheetPoint point) {
  double best = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
    best = std::min(best, distance_to_segment_mm(ring[j], ring[i], point));
  }
  return best;
}

}  // namespace sheetloupe
