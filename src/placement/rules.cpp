#include "placement/rules.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::placement {
namespace {

// Rings are thinned to this deviation and every distance is then taken as this much worse: safe, and a traced border of
// thousands of points costs no more than its shape needs.
constexpr double kSimplifyMm = 0.05;

Ring simplified(const Ring& ring) {
  if (ring.size() < 8) return ring;
  std::vector<cv::Point2f> in, out;
  for (const SheetPoint& p : ring) in.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  cv::approxPolyDP(in, out, kSimplifyMm, true);
  if (out.size() < 3) return ring;
  Ring result;
  for (const cv::Point2f& p : out) result.push_back({p.x, p.y});
  return result;
}

BadPlace bad_place(const MapFeature& feature) {
  BadPlace place;
  place.feature = &feature;
  if (feature.point) {
    place.middle = feature.point->centre;
    place.radius = feature.point->radius.value();
    return place;
  }
  place.polygon.outer = simplified(feature.polygon.outer);
  for (const Ring& hole : feature.polygon.holes) {
    // A hole narrower than the finest core cannot hold a ring: left out, which only bars more.
    if (area_mm2(hole) > 50) place.polygon.holes.push_back(simplified(hole));
  }
  SheetPoint low{1e9, 1e9}, high{-1e9, -1e9};
  for (const SheetPoint& p : place.polygon.outer) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
  place.middle = {(low.x + high.x) / 2, (low.y + high.y) / 2};
  for (const SheetPoint& p : place.polygon.outer) place.radius = std::max(place.radius, distance_mm(place.middle, p));
  return place;
}

struct Interval {
  double nearest, farthest;
};

// Distances from a centre to all points of a connected place: since it is connected, all between occur.
Interval distances(const BadPlace& place, SheetPoint centre) {
  const double d = distance_mm(place.middle, centre);
  if (place.feature->point) return {std::max(0.0, d - place.radius), d + place.radius};
  Interval interval{std::numeric_limits<double>::infinity(), 0.0};
  for (const SheetPoint& p : place.polygon.outer)
    interval.farthest = std::max(interval.farthest, distance_mm(p, centre));
  if (contains(place.polygon, centre)) {
    interval.nearest = 0.0;
  } else {
    interval.nearest = distance_to_ring_mm(place.polygon.outer, centre);
    for (const Ring& hole : place.polygon.holes)
      interval.nearest = std::min(interval.nearest, distance_to_ring_mm(hole, centre));
  }
  return {std::max(0.0, interval.nearest - kSimplifyMm), interval.farthest + kSimplifyMm};
}

double uncertainty(const UsableMap& map, const Orders& o) {
  return std::sqrt(map.position_u95_mm * map.position_u95_mm + o.template_mm * o.template_mm +
                   o.drill_wander_mm * o.drill_wander_mm);
}

std::string tenth(double mm) {
  const std::string text = std::to_string(std::round(mm * 10) / 10);
  return text.substr(0, text.find('.') + 2);
}

}  // namespace

Job job_for(const RingOrder& ring, const Orders& orders, const UsableMap& map) {
  Job job;
  job.ring = &ring;
  const double inner = ring.inner_diameter_mm / 2, outer = inner + ring.wall_mm;
  const double e = orders.turning_allowance_mm + uncertainty(map, orders);
  job.inner = std::max(0.0, inner - e);
  job.outer = outer + e;
  for (const HoleSaw& saw : orders.saws) {
    const double plug = saw.outer_mm / 2 - saw.kerf_mm;
    if (plug + 1e-9 < outer + orders.turning_allowance_mm) continue;
    if (!job.saw || saw.outer_mm < job.saw->outer_mm) job.saw = &saw;
  }
  if (!job.saw) {
    job.refusal =
        "no saw leaves a plug of " + tenth(2 * (outer + orders.turning_allowance_mm)) + " mm: a larger saw is needed";
  } else if (map.thickness_mm && ring.width_mm + orders.face_allowance_mm > *map.thickness_mm + 1e-9) {
    job.refusal = "the ring is " + tenth(ring.width_mm) + " mm wide and needs " +
                  tenth(ring.width_mm + orders.face_allowance_mm) + " mm of sheet, which is " +
                  tenth(*map.thickness_mm) + " mm thick";
  }
  job.saw_radius = job.saw ? job.saw->outer_mm / 2 : 0.0;
  return job;
}

Rules::Rules(const UsableMap& map, const Orders& orders, const PlacementOptions& options, bool flawless)
    : orders_(orders), options_(options) {
  for (const MapFeature& feature : map.features) {
    if (feature.kind == FeatureKind::outline) {
      outlines_.push_back(feature.polygon);
    } else if (feature.kind != FeatureKind::usable && !flawless) {
      bad_.push_back(bad_place(feature));
    }
  }
}

bool Rules::inside(const Job& job, SheetPoint centre) const {
  const double needed = job.saw_radius + orders_.edge_margin_mm;
  return std::any_of(outlines_.begin(), outlines_.end(), [&](const Polygon& outline) {
    if (!contains(outline, centre) || distance_to_ring_mm(outline.outer, centre) < needed) return false;
    return std::all_of(outline.holes.begin(), outline.holes.end(),
                       [&](const Ring& hole) { return distance_to_ring_mm(hole, centre) >= needed; });
  });
}

bool Rules::bars(const Job& job, const BadPlace& place) const {
  const MapFeature& f = *place.feature;
  if (f.kind == FeatureKind::thin_zone)
    return job.ring->width_mm + orders_.face_allowance_mm > f.thickness_mm.value_or(0.0);
  if (f.kind == FeatureKind::defect && f.point && f.defect == "pinhole") {
    return 2 * f.point->radius.value() > job.ring->accept_pinhole_mm || job.ring->accept_pinhole_mm <= 0;
  }
  return true;
}

double Rules::clearance(const Job& job, SheetPoint centre) const {
  double clear = 99.0;
  for (const BadPlace& place : bad_) {
    const double d = distance_mm(place.middle, centre);
    if (d - place.radius > job.outer + clear || !bars(job, place)) continue;
    const Interval interval = distances(place, centre);
    // Wholly in the core, or wholly outside the annulus: how far from it.
    clear = std::min(clear, std::max(job.inner - interval.farthest, interval.nearest - job.outer));
  }
  return clear;
}

bool Rules::allows(const Job& job, SheetPoint centre) const {
  if (!inside(job, centre)) return false;
  for (const Circle& c : options_.avoid) {
    if (distance_mm(c.centre, centre) < c.radius.value() + job.saw_radius) return false;
  }
  for (const Circle& c : options_.taken) {
    if (distance_mm(c.centre, centre) < c.radius.value() + job.saw_radius + orders_.web_mm) return false;
  }
  for (const BadPlace& place : bad_) {
    if (distance_mm(place.middle, centre) > place.radius + job.outer || !bars(job, place)) continue;
    const Interval interval = distances(place, centre);
    if (interval.nearest <= job.outer && interval.farthest >= job.inner) return false;
  }
  return true;
}

std::vector<std::string> Rules::harmless(const Job& job, SheetPoint centre) const {
  std::vector<std::string> ids;
  for (const BadPlace& place : bad_) {
    if (place.feature->kind != FeatureKind::defect || place.feature->id.empty()) continue;
    if (distances(place, centre).nearest <= job.saw_radius) ids.push_back(place.feature->id);
  }
  return ids;
}

double Rules::spacing(const Job& a, const Job& b) const {
  return a.saw_radius + b.saw_radius + orders_.web_mm + 2 * orders_.drill_wander_mm;
}

}  // namespace sheetloupe::placement
