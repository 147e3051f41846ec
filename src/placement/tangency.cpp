#include "placement/tangency.h"

#include <cmath>
#include <queue>

namespace sheetloupe::placement {
namespace {

struct Corner {
  double along, across;
  SheetPoint at;
  bool operator<(const Corner& other) const {  // the queue's top is the least
    return along != other.along ? along > other.along : across > other.across;
  }
};

// Up to two points of a segment on a circle.
void cross(SheetPoint a, SheetPoint b, SheetPoint centre, double radius, std::vector<SheetPoint>& points) {
  const double ux = b.x - a.x, uy = b.y - a.y, fx = a.x - centre.x, fy = a.y - centre.y;
  const double length2 = ux * ux + uy * uy, half = fx * ux + fy * uy, rest = fx * fx + fy * fy - radius * radius;
  const double root2 = half * half - length2 * rest;
  if (root2 < 0.0) return;
  for (const double sign : {-1.0, 1.0}) {
    const double k = (-half + sign * std::sqrt(root2)) / length2;
    if (k >= 0.0 && k <= 1.0) points.push_back({a.x + k * ux, a.y + k * uy});
  }
}

// Up to two points that two circles share.
void cross(SheetPoint a, double ra, SheetPoint b, double rb, std::vector<SheetPoint>& points) {
  const double dx = b.x - a.x, dy = b.y - a.y, d2 = dx * dx + dy * dy;
  if (d2 <= 0.0 || d2 > (ra + rb) * (ra + rb) || d2 < (ra - rb) * (ra - rb)) return;
  const double along = (ra * ra - rb * rb + d2) / (2 * d2);
  const double across = std::sqrt(std::max(0.0, ra * ra / d2 - along * along));
  for (const double sign : {-1.0, 1.0})
    points.push_back({a.x + along * dx - sign * across * dy, a.y + along * dy + sign * across * dx});
}

}  // namespace

Corners::Corners(const Problem& problem, int kind) : problem_(problem), kind_(kind) {
  const Field& field = problem.field(kind);
  edges_ = border_of(field.region());
  for (std::uint32_t e = 0; e < edges_.size(); ++e) all_.edges.push_back(e);
  for (const Barrier& barrier : field.barriers()) {
    if (barrier.in_region) continue;
    const Circle& around = barrier.obstacle->around;
    all_.rings.push_back({around.centre, barrier.outer + around.radius.value()});
    const double core = barrier.inner - around.radius.value();
    if (core > 0.0) all_.rings.push_back({around.centre, core});
  }
  std::vector<SheetPoint> points;
  for (const BorderEdge& edge : edges_) points.push_back(edge.a);
  for (const Around& ring : all_.rings) {
    meet(ring, all_, points);
    // A defect alone in the open offers its four sides; which of them does not matter.
    const SheetPoint c = ring.centre;
    for (const double r : {-ring.radius, ring.radius}) {
      points.push_back({c.x + r, c.y});
      points.push_back({c.x, c.y + r});
    }
  }
  for (const SheetPoint p : points) {
    if (field.allowed(p)) all_.corners.push_back(p);
  }
}

Corners::Nearby Corners::within(const Circle& area) const {
  Nearby near;
  const SheetPoint c = area.centre;
  const double r = area.radius.value();
  for (const std::uint32_t i : all_.edges) {
    const BorderEdge& e = edges_[i];
    const bool meets = std::min(e.a.x, e.b.x) <= c.x + r && std::max(e.a.x, e.b.x) >= c.x - r &&
                       std::min(e.a.y, e.b.y) <= c.y + r && std::max(e.a.y, e.b.y) >= c.y - r;
    if (meets) near.edges.push_back(i);
  }
  for (const Around& ring : all_.rings) {
    if (apart2(ring.centre, c) <= (r + ring.radius) * (r + ring.radius)) near.rings.push_back(ring);
  }
  for (const SheetPoint p : all_.corners) {
    if (apart2(p, c) <= r * r) near.corners.push_back(p);
  }
  return near;
}

void Corners::meet(const Around& circle, const Nearby& nearby, std::vector<SheetPoint>& points) const {
  const SheetPoint c = circle.centre;
  const double r = circle.radius;
  for (const std::uint32_t i : nearby.edges) {
    const BorderEdge& e = edges_[i];
    const bool near = std::min(e.a.x, e.b.x) <= c.x + r && std::max(e.a.x, e.b.x) >= c.x - r &&
                      std::min(e.a.y, e.b.y) <= c.y + r && std::max(e.a.y, e.b.y) >= c.y - r;
    if (near) cross(e.a, e.b, c, r, points);
  }
  for (const Around& ring : nearby.rings) cross(c, r, ring.centre, ring.radius, points);
}

Layout Corners::fill(Layout layout, double direction, std::size_t most, const std::optional<Circle>& area) const {
  const Field& field = problem_.field(kind_);
  const Nearby part = area ? within(*area) : Nearby{};
  const Nearby& nearby = area ? part : all_;
  const double c = std::cos(direction), s = std::sin(direction);
  std::priority_queue<Corner> queue;
  std::vector<Around> circles;
  std::vector<SheetPoint> points = nearby.corners;
  // What barred the last place most likely bars the next one.
  std::size_t bars = 0;
  const auto misses = [&](const Around& circle, SheetPoint p) {
    const double least = circle.radius - kRounding;
    return apart2(p, circle.centre) >= least * least;
  };
  const auto free = [&](SheetPoint p) {
    if (bars < circles.size() && !misses(circles[bars], p)) return false;
    for (std::size_t i = 0; i < circles.size(); ++i) {
      if (misses(circles[i], p)) continue;
      bars = i;
      return false;
    }
    return true;
  };
  const auto within_reach = [&](SheetPoint p, double far) { return apart2(p, area->centre) <= far * far; };
  const auto add_circle = [&](const Disc& d) {
    const Around circle{d.at, problem_.spacing_of(kind_, d.kind)};
    if (area && !within_reach(d.at, area->radius.value() + circle.radius)) return;
    meet(circle, nearby, points);
    for (const Around& other : circles) {
      const double both = circle.radius + other.radius;
      if (apart2(circle.centre, other.centre) > both * both) continue;
      cross(circle.centre, circle.radius, other.centre, other.radius, points);
    }
    circles.push_back(circle);
  };
  for (const Disc& d : layout) add_circle(d);
  for (std::size_t added = 0; added < most; ++added) {
    for (const SheetPoint p : points) {
      const bool here = !area || within_reach(p, area->radius.value());
      if (here && free(p) && field.allowed(p)) queue.push({c * p.x + s * p.y, c * p.y - s * p.x, p});
    }
    points.clear();
    while (!queue.empty() && !free(queue.top().at)) queue.pop();
    if (queue.empty()) break;
    layout.push_back({kind_, queue.top().at});
    add_circle(layout.back());
  }
  return layout;
}

}  // namespace sheetloupe::placement
