#include "sheetloupe/polygon_ops.h"

#include <geos_c.h>

#include <algorithm>
#include <memory>
#include <numbers>
#include <stdexcept>

namespace sheetloupe {
namespace {

// Segments of a quarter circle. A polygon drawn round a circle of radius r reaches r / cos(pi / (4 kQuarter)).
constexpr int kQuarter = 40;
const double kRoundUp = 1.0 / std::cos(std::numbers::pi / (4.0 * kQuarter));
// Before it offsets, the library straightens dents of up to a hundredth of the distance (its buffer builder's simplify
// factor, which the C interface does not offer): so much more is taken off, and a wavy side keeps its margin.
constexpr double kLibrarySlack = 0.01;

class Geos {
 public:
  Geos() : handle_(GEOS_init_r()) {}
  Geos(const Geos&) = delete;
  Geos& operator=(const Geos&) = delete;
  ~Geos() { GEOS_finish_r(handle_); }
  GEOSContextHandle_t handle() const { return handle_; }

  struct Delete {
    GEOSContextHandle_t handle;
    void operator()(GEOSGeometry* g) const { GEOSGeom_destroy_r(handle, g); }
  };
  using Shape = std::unique_ptr<GEOSGeometry, Delete>;

  Shape own(GEOSGeometry* g) const {
    if (g == nullptr) throw std::runtime_error("the geometry library refused a polygon");
    return Shape(g, Delete{handle_});
  }

 private:
  GEOSContextHandle_t handle_;
};

GEOSGeometry* raw_ring(const Geos& geos, const Ring& ring) {
  const auto size = static_cast<unsigned>(ring.size());
  GEOSCoordSequence* points = GEOSCoordSeq_create_r(geos.handle(), size + 1, 2);
  for (unsigned i = 0; i <= size; ++i) {
    const SheetPoint& p = ring[i % size];
    GEOSCoordSeq_setXY_r(geos.handle(), points, i, p.x, p.y);
  }
  return GEOSGeom_createLinearRing_r(geos.handle(), points);
}

Geos::Shape shape_of(const Geos& geos, const Polygon& polygon) {
  if (polygon.outer.size() < 3) return geos.own(GEOSGeom_createEmptyPolygon_r(geos.handle()));
  std::vector<GEOSGeometry*> holes;
  for (const Ring& hole : polygon.holes) {
    if (hole.size() >= 3) holes.push_back(raw_ring(geos, hole));
  }
  Geos::Shape shape = geos.own(GEOSGeom_createPolygon_r(geos.handle(), raw_ring(geos, polygon.outer), holes.data(),
                                                        static_cast<unsigned>(holes.size())));
  if (GEOSisValid_r(geos.handle(), shape.get()) == 1) return shape;
  return geos.own(GEOSMakeValid_r(geos.handle(), shape.get()));
}

Geos::Shape shape_of(const Geos& geos, const Region& region) {
  std::vector<GEOSGeometry*> parts;
  for (const Polygon& polygon : region) parts.push_back(shape_of(geos, polygon).release());
  const Geos::Shape all = geos.own(GEOSGeom_createCollection_r(geos.handle(), GEOS_GEOMETRYCOLLECTION, parts.data(),
                                                               static_cast<unsigned>(parts.size())));
  return geos.own(GEOSUnaryUnion_r(geos.handle(), all.get()));
}

Ring ring_of(const Geos& geos, const GEOSGeometry* line) {
  const GEOSCoordSequence* points = GEOSGeom_getCoordSeq_r(geos.handle(), line);
  unsigned size = 0;
  GEOSCoordSeq_getSize_r(geos.handle(), points, &size);
  Ring ring;
  for (unsigned i = 0; i + 1 < size; ++i) {
    SheetPoint p;
    GEOSCoordSeq_getXY_r(geos.handle(), points, i, &p.x, &p.y);
    ring.push_back(p);
  }
  return ring;
}

// Areas only: points and lines that an operation leaves over are dropped.
void collect(const Geos& geos, const GEOSGeometry* shape, Region& region) {
  const int type = GEOSGeomTypeId_r(geos.handle(), shape);
  if (type == GEOS_POLYGON) {
    if (GEOSisEmpty_r(geos.handle(), shape) != 0) return;
    Polygon polygon{ring_of(geos, GEOSGetExteriorRing_r(geos.handle(), shape)), {}};
    const int holes = GEOSGetNumInteriorRings_r(geos.handle(), shape);
    for (int i = 0; i < holes; ++i)
      polygon.holes.push_back(ring_of(geos, GEOSGetInteriorRingN_r(geos.handle(), shape, i)));
    region.push_back(std::move(polygon));
  } else if (type == GEOS_MULTIPOLYGON || type == GEOS_GEOMETRYCOLLECTION) {
    const int parts = GEOSGetNumGeometries_r(geos.handle(), shape);
    for (int i = 0; i < parts; ++i) collect(geos, GEOSGetGeometryN_r(geos.handle(), shape, i), region);
  }
}

// A convex ring less a strip of `distance` along each side: clipped by each side's line, moved inward (Sutherland and
// Hodgman, Reentrant polygon clipping, Comm. ACM 17, 1974). The library drops slivers; this keeps them.
Ring clipped(const Ring& ring, double distance) {
  double turn = 0.0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const SheetPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    turn += a.x * b.y - a.y * b.x;
  }
  const double side = turn > 0.0 ? 1.0 : -1.0;
  Ring rest = ring;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const SheetPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    const double length = distance_mm(a, b);
    if (length <= 0.0) continue;
    const auto inward = [&](SheetPoint p) {
      return side * ((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)) / length - distance;
    };
    Ring kept;
    for (std::size_t k = 0; k < rest.size(); ++k) {
      const SheetPoint p = rest[k], q = rest[(k + 1) % rest.size()];
      const double dp = inward(p), dq = inward(q);
      if (dp >= 0.0) kept.push_back(p);
      if ((dp >= 0.0) != (dq >= 0.0)) {
        const double share = dp / (dp - dq);
        kept.push_back({p.x + share * (q.x - p.x), p.y + share * (q.y - p.y)});
      }
    }
    rest = std::move(kept);
  }
  return rest;
}

Region region_of(const Geos& geos, const Geos::Shape& shape) {
  Region region;
  collect(geos, shape.get(), region);
  return region;
}

}  // namespace

Region unite(const Region& region) {
  const Geos geos;
  return region_of(geos, shape_of(geos, region));
}

Region subtract(const Region& region, const Region& barred) {
  const Geos geos;
  const auto a = shape_of(geos, region), b = shape_of(geos, barred);
  return region_of(geos, geos.own(GEOSDifference_r(geos.handle(), a.get(), b.get())));
}

Region intersect(const Region& a, const Region& b) {
  const Geos geos;
  const auto first = shape_of(geos, a), second = shape_of(geos, b);
  return region_of(geos, geos.own(GEOSIntersection_r(geos.handle(), first.get(), second.get())));
}

Region grow(const Region& region, double distance_mm) {
  const Geos geos;
  const auto shape = shape_of(geos, region);
  return region_of(geos, geos.own(GEOSBuffer_r(geos.handle(), shape.get(), distance_mm * kRoundUp, kQuarter)));
}

Region shrink(const Region& region, double distance_mm) {
  const Geos geos;
  Region result;
  for (const Polygon& polygon : region) {
    const bool exact = polygon.holes.empty() && is_convex(polygon.outer);
    if (exact) {
      Polygon rest{clipped(polygon.outer, distance_mm), {}};
      if (rest.outer.size() >= 3) result.push_back(std::move(rest));
      continue;
    }
    const auto shape = shape_of(geos, polygon);
    const double inward = -distance_mm * (kRoundUp + kLibrarySlack);
    collect(geos, geos.own(GEOSBuffer_r(geos.handle(), shape.get(), inward, kQuarter)).get(), result);
  }
  return result;
}

Region simplify(const Region& region, double tolerance_mm) {
  const Geos geos;
  const auto shape = shape_of(geos, region);
  return region_of(geos, geos.own(GEOSTopologyPreserveSimplify_r(geos.handle(), shape.get(), tolerance_mm)));
}

Ring convex_hull(const Region& region) {
  if (region.empty()) return {};
  const Geos geos;
  const auto shape = shape_of(geos, region);
  const Region hull = region_of(geos, geos.own(GEOSConvexHull_r(geos.handle(), shape.get())));
  return hull.empty() ? Ring{} : hull.front().outer;
}

double area_mm2(const Region& region) {
  double sum = 0.0;
  for (const Polygon& polygon : region) sum += area_mm2(polygon);
  return sum;
}

double perimeter_mm(const Ring& ring) {
  double sum = 0.0;
  for (std::size_t i = 0; i < ring.size(); ++i) sum += distance_mm(ring[i], ring[(i + 1) % ring.size()]);
  return sum;
}

bool is_convex(const Ring& ring) {
  bool left = false, right = false;
  double turned = 0.0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const SheetPoint a = ring[i], b = ring[(i + 1) % ring.size()], c = ring[(i + 2) % ring.size()];
    const double ux = b.x - a.x, uy = b.y - a.y, vx = c.x - b.x, vy = c.y - b.y;
    const double cross = ux * vy - uy * vx;
    left = left || cross > 1e-12;
    right = right || cross < -1e-12;
    turned += std::atan2(cross, ux * vx + uy * vy);
  }
  return !(left && right) && std::abs(turned) < 2.5 * std::numbers::pi;
}

}  // namespace sheetloupe
