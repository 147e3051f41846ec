#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "placement/rules.h"
#include "sheetloupe/placement.h"

namespace sheetloupe {
namespace {

using namespace placement;

struct Placed {
  const Job* job;
  SheetPoint centre;
};

struct Box {
  SheetPoint low{1e9, 1e9}, high{-1e9, -1e9};
  void add(SheetPoint p) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
};

Box box_of(const std::vector<Polygon>& outlines) {
  Box box;
  for (const Polygon& outline : outlines) {
    for (const SheetPoint& p : outline.outer) box.add(p);
  }
  return box;
}

bool apart(const Rules& rules, const std::vector<Placed>& placed, const Job& job, SheetPoint centre) {
  return std::all_of(placed.begin(), placed.end(), [&](const Placed& other) {
    return distance_mm(other.centre, centre) >= rules.spacing(job, *other.job) - 1e-9;
  });
}

// Where a job may stand, on a raster, other blanks aside: makes counting lattices cheap. Only a filter; every centre
// that is kept passes the exact test again.
class AllowedMap {
 public:
  AllowedMap(const Rules& rules, const Job& job) : box_(box_of(rules.outlines())) {
    const int rows = std::max(1, static_cast<int>((box_.high.y - box_.low.y) / kStep) + 2),
              columns = std::max(1, static_cast<int>((box_.high.x - box_.low.x) / kStep) + 2);
    map_ = cv::Mat1b(rows, columns, static_cast<unsigned char>(0));
    cv::parallel_for_(cv::Range(0, rows), [&](const cv::Range& range) {
      for (int r = range.start; r < range.end; ++r) {
        for (int c = 0; c < columns; ++c)
          map_(r, c) = rules.allows(job, {box_.low.x + c * kStep, box_.low.y + r * kStep}) ? 1 : 0;
      }
    });
  }
  bool near(SheetPoint p) const {
    const int r = static_cast<int>(std::floor((p.y - box_.low.y) / kStep)),
              c = static_cast<int>(std::floor((p.x - box_.low.x) / kStep));
    if (r < 0 || c < 0 || r + 1 >= map_.rows || c + 1 >= map_.cols) return false;
    return map_(r, c) || map_(r, c + 1) || map_(r + 1, c) || map_(r + 1, c + 1);
  }
  const Box& box() const { return box_; }

 private:
  static constexpr double kStep = 0.75;
  Box box_;
  cv::Mat1b map_;
};

// Centres of one lattice that may stand, in reading order; `most` ends early.
std::vector<SheetPoint> lattice(const Rules& rules, const AllowedMap& allowed, const std::vector<Placed>& placed,
                                const Job& job, double angle, double shift_u, double shift_v, bool exact) {
  const double s = rules.spacing(job, job), c = std::cos(angle), d = std::sin(angle), row = s * std::sqrt(3.0) / 2;
  const SheetPoint middle{(allowed.box().low.x + allowed.box().high.x) / 2,
                          (allowed.box().low.y + allowed.box().high.y) / 2};
  const double reach =
      std::hypot(allowed.box().high.x - allowed.box().low.x, allowed.box().high.y - allowed.box().low.y) / 2 + s;
  const int n = static_cast<int>(reach / row) + 1;
  std::vector<SheetPoint> centres;
  for (int j = -n; j <= n; ++j) {
    for (int i = -n; i <= n; ++i) {
      const double u = (i + shift_u + (j % 2 ? 0.5 : 0.0)) * s, v = (j + shift_v) * row;
      const SheetPoint p{middle.x + c * u - d * v, middle.y + d * u + c * v};
      if (!allowed.near(p) || !apart(rules, placed, job, p)) continue;
      if (!exact || rules.allows(job, p)) centres.push_back(p);
    }
  }
  return centres;
}

// Single places that a lattice leaves: a sweep over a fine raster, first come first served.
void add_leftovers(const Rules& rules, const AllowedMap& allowed, std::vector<Placed>& placed, const Job& job,
                   int wanted) {
  constexpr double kStep = 1.0;
  for (double y = allowed.box().low.y; y <= allowed.box().high.y && wanted > 0; y += kStep) {
    for (double x = allowed.box().low.x; x <= allowed.box().high.x && wanted > 0; x += kStep) {
      const SheetPoint p{x, y};
      if (!allowed.near(p) || !apart(rules, placed, job, p) || !rules.allows(job, p)) continue;
      placed.push_back({&job, p});
      --wanted;
    }
  }
}

// The best of many turned and shifted hexagonal lattices, then what still fits between.
int place_job(const Rules& rules, std::vector<Placed>& placed, const Job& job, int wanted, std::uint64_t& evaluations) {
  const AllowedMap allowed(rules, job);
  constexpr int kAngles = 30, kShifts = 8;
  double best_angle = 0, best_u = 0, best_v = 0;
  std::size_t best = 0;
  for (int a = 0; a < kAngles; ++a) {
    for (int u = 0; u < kShifts; ++u) {
      for (int v = 0; v < kShifts; ++v) {
        const double angle = a * std::numbers::pi / 3 / kAngles;
        const std::size_t count =
            lattice(rules, allowed, placed, job, angle, u / static_cast<double>(kShifts), 2.0 * v / kShifts, false)
                .size();
        ++evaluations;
        if (count > best)
          best = count, best_angle = angle, best_u = u / static_cast<double>(kShifts), best_v = 2.0 * v / kShifts;
      }
    }
  }
  const std::size_t before = placed.size();
  for (const SheetPoint& p : lattice(rules, allowed, placed, job, best_angle, best_u, best_v, true)) {
    if (static_cast<int>(placed.size() - before) < wanted) placed.push_back({&job, p});
  }
  add_leftovers(rules, allowed, placed, job, wanted - static_cast<int>(placed.size() - before));
  return static_cast<int>(placed.size() - before);
}

// Oler (1961): points at least S apart in a convex region of area A and perimeter P number at most
// 2A / (sqrt(3) S^2) + P / (2S) + 1. The region of centres lies in the outline's bounding rectangle less the margins.
int oler_bound(const Rules& rules, const Job& job, const Orders& orders) {
  double total = 0;
  for (const Polygon& outline : rules.outlines()) {
    std::vector<cv::Point2f> points;
    for (const SheetPoint& p : outline.outer) points.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
    if (points.size() < 3) continue;
    const cv::RotatedRect box = cv::minAreaRect(points);
    const double inset = 2 * (job.saw_radius + orders.edge_margin_mm), s = rules.spacing(job, job);
    const double w = box.size.width - inset, h = box.size.height - inset;
    if (w >= 0 && h >= 0) total += std::floor(2 * w * h / (std::sqrt(3.0) * s * s) + (w + h) / s + 1 + 1e-9);
  }
  return static_cast<int>(total);
}

std::string blank_id(const std::string& sheet, std::size_t number) {
  char digits[32];
  std::snprintf(digits, sizeof digits, "%02zu", number);
  return (sheet.empty() ? "sheet" : sheet) + "-" + digits;
}

Blank blank_of(const Rules& rules, const Placed& p, const std::string& id) {
  Blank blank;
  blank.id = id;
  blank.ring = p.job->ring->name;
  blank.centre = p.centre;
  blank.saw = p.job->saw->name;
  blank.saw_outer_mm = p.job->saw->outer_mm;
  blank.kerf_mm = p.job->saw->kerf_mm;
  blank.inner_diameter_mm = p.job->ring->inner_diameter_mm;
  blank.outer_diameter_mm = p.job->ring->inner_diameter_mm + 2 * p.job->ring->wall_mm;
  blank.clearance_mm = rules.clearance(*p.job, p.centre);
  blank.harmless_defects = rules.harmless(*p.job, p.centre);
  return blank;
}

// Orders by priority, larger saws first; what only fills comes last, dearest first.
std::vector<Job> jobs_of(const Orders& orders, const UsableMap& map) {
  std::vector<Job> jobs;
  for (const RingOrder& ring : orders.rings) jobs.push_back(job_for(ring, orders, map));
  std::stable_sort(jobs.begin(), jobs.end(), [](const Job& a, const Job& b) {
    const bool a_fills = !a.ring->count, b_fills = !b.ring->count;
    if (a_fills != b_fills) return b_fills;
    if (a_fills) return a.ring->value > b.ring->value;
    if (a.ring->priority != b.ring->priority) return a.ring->priority < b.ring->priority;
    return a.saw_radius > b.saw_radius;
  });
  return jobs;
}

int count_flawless(const UsableMap& map, const Orders& orders, const Job& job, std::uint64_t& evaluations) {
  const PlacementOptions none;
  const Rules rules(map, orders, none, true);
  std::vector<Placed> placed;
  return place_job(rules, placed, job, 1 << 20, evaluations);
}

void place_pins(const Rules& rules, const PlacementOptions& options, const Job& job, std::vector<Placed>& placed,
                Plan& plan) {
  for (const SheetPoint& pin : options.pins) {
    if (rules.allows(job, pin) && apart(rules, placed, job, pin)) {
      placed.push_back({&job, pin});
    } else {
      plan.unplaced.push_back({job.ring->name, 1, "the pinned place touches a defect, another blank or the margin"});
    }
  }
}

}  // namespace

Plan place_blanks(const UsableMap& map, const Orders& orders, const PlacementOptions& options) {
  Plan plan;
  plan.seed = options.seed;
  plan.stopped_by = "complete";
  const Rules rules(map, orders, options);
  const std::vector<Job> jobs = jobs_of(orders, map);
  std::vector<Placed> placed;
  const Job* smallest = nullptr;
  for (const Job& job : jobs) {
    const std::string& name = job.ring->name;
    if (!job.refusal.empty()) {
      plan.unplaced.push_back({name, job.ring->count.value_or(1), job.refusal});
      continue;
    }
    if (!smallest || job.saw_radius < smallest->saw_radius) smallest = &job;
    const std::size_t before = placed.size();
    if (before == 0) place_pins(rules, options, job, placed, plan);
    const int pinned = static_cast<int>(placed.size() - before);
    const int wanted = job.ring->count ? std::max(0, *job.ring->count - pinned) : 1 << 20;
    const int got = wanted > 0 ? place_job(rules, placed, job, wanted, plan.evaluations) : 0;
    if (job.ring->count && got < wanted)
      plan.unplaced.push_back({name, wanted - got, "no room is left for it on this sheet"});
    if (options.progress && !options.progress(static_cast<int>(placed.size()), 1.0)) {
      plan.stopped_by = "interrupted";
      break;
    }
  }
  for (std::size_t i = 0; i < placed.size(); ++i)
    plan.blanks.push_back(blank_of(rules, placed[i], blank_id(map.sheet_id, i + 1)));
  if (smallest) {
    plan.bound_proven = oler_bound(rules, *smallest, orders);
    plan.bound_flawless = count_flawless(map, orders, *smallest, plan.evaluations);
  }
  return plan;
}

}  // namespace sheetloupe
