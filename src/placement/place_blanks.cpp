#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <cstdio>
#include <future>
#include <limits>
#include <mutex>
#include <optional>

#include "placement/bounds.h"
#include "placement/leftover.h"
#include "placement/search.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/placement.h"
#include "sheetloupe/side_by_side.h"

namespace sheetloupe {
namespace {

using namespace placement;

// The flawless figure comes from an emptier, easier sheet: a fifth of the work.
constexpr std::uint64_t kFlawlessShare = 5;

struct Search {
  const PlacementOptions& options;
  std::uint64_t total;
  bool interrupted = false;
  std::size_t most = 0;  // blanks told of
  std::mutex telling{};
};

// From whichever thread: the caller's own is served one at a time, and only with what is news.
bool tell(Search& search, std::size_t placed, std::uint64_t spent) {
  const std::lock_guard lock(search.telling);
  search.most = std::max(search.most, placed);
  const double share = static_cast<double>(spent) / static_cast<double>(search.total);
  return search.options.progress(static_cast<int>(search.most), std::min(1.0, share));
}

// A pinned blank goes to the first ring of the order that can be cut there.
Layout place_pins(const Problem& problem, const PlacementOptions& options, std::vector<int>& left) {
  Layout layout;
  for (const SheetPoint& pin : options.pins) {
    bool placed = false;
    for (std::size_t k = 0; k < problem.kinds.size() && !placed; ++k) {
      const int kind = static_cast<int>(k);
      if (left[k] <= 0 || !fits(problem, layout, kind, pin)) continue;
      layout.push_back({kind, pin, true, true});
      --left[k];
      placed = true;
    }
    if (placed) continue;
    char place[64];
    std::snprintf(place, sizeof place, "%.2f,%.2f", pin.x, pin.y);
    throw InputError({"no ring of the order can be cut at a pinned place", "pin", place,
                      "a place clear of defects, edges, holes and other pins, and a ring still wanted",
                      "Move the pin or leave it out"});
  }
  return layout;
}

// Each ring in turn beside those before it, which may move but never go: what comes first is never lost to what
// comes later. Its share of the work does not depend on what comes later either.
Layout place_all(const Problem& problem, Search& search, std::uint64_t& spent) {
  std::vector<int> left;
  for (const Kind& kind : problem.kinds) left.push_back(kind.ring->count.value_or(std::numeric_limits<int>::max() / 2));
  Layout layout = place_pins(problem, search.options, left);
  std::uint64_t rest = search.total;
  for (std::size_t k = 0; k < problem.kinds.size() && !search.interrupted; ++k) {
    const bool counted = problem.kinds[k].ring->count.has_value();
    Goal goal{static_cast<int>(k), left[k], {}, search.options.threads, {}};
    Budget budget{0, counted || k + 1 < problem.kinds.size() ? rest / 2 : rest, false};
    if (!search.options.start.empty()) {
      Layout start = layout;
      for (const SheetPoint& c : search.options.start) {
        if (fits(problem, start, goal.kind, c)) start.push_back({goal.kind, c});
      }
      goal.starts.push_back(std::move(start));
    }
    if (search.options.progress) {
      // Two searches spend alike.
      goal.keep_on = [&](std::size_t placed, std::uint64_t so_far) { return tell(search, placed, spent + 2 * so_far); };
    }
    layout = fill(problem, layout, goal, search.options.seed + k, budget);
    for (Disc& d : layout) d.required = true;
    search.interrupted = budget.stopped;
    spent += budget.spent;
    rest -= std::min(rest, budget.spent);
  }
  return layout;
}

// Spends the freedom that is left on distance from defects: all blanks ask for a little more, and those that cannot
// get it keep what they have.
void spend_clearance(const Problem& problem, Layout& layout, std::uint64_t& spent) {
  for (const double extra : {0.1, 0.2, 0.4, 0.7, 1.0, 1.5, 2.0, 3.0}) {
    Layout wider = layout;
    for (Disc& d : wider) {
      const double now = problem.field(d.kind).clearance(d.at);
      d.extra = now < extra ? std::min(extra, std::max(0.0, now) + extra) : extra;
    }
    Budget budget{0, std::numeric_limits<std::uint64_t>::max(), false};
    const double energy = relax(problem, wider, budget);
    spent += budget.spent;
    if (!holds(energy) || !valid(problem, wider)) return;
    layout = wider;
  }
}

// The least spacing of any two, whatever their saws.
double least_spacing(const Problem& problem) {
  double least = std::numeric_limits<double>::infinity();
  for (const Kind& kind : problem.kinds) least = std::min(least, kind.saw->outer_mm + problem.between_mm);
  return least;
}

// One ring may lie where another is barred: every centre lies in some ring's region.
int proven_bound(const Problem& problem) {
  if (problem.kinds.empty()) return 0;
  Region anywhere;
  for (const Kind& kind : problem.kinds) {
    const Region& region = kind.field->region();
    anywhere.insert(anywhere.end(), region.begin(), region.end());
  }
  if (problem.kinds.size() > 1) anywhere = unite(anywhere);
  return most_points(anywhere, least_spacing(problem));
}

// Whether so many could lie in this outline, were it free of flaws; no is proven.
bool room_for(std::size_t wanted, const Problem& problem, const Region& outline) {
  double border = std::numeric_limits<double>::infinity();
  for (const Kind& kind : problem.kinds) border = std::min(border, kind.border);
  return static_cast<std::size_t>(most_points(centres_within(outline, border), least_spacing(problem))) >= wanted;
}

struct Strip {
  Problem problem;
  Layout layout;
  double area_mm2 = 0.0;
};

// What was found from one side.
struct SideStrips {
  std::optional<Strip> best;
  std::uint64_t spent = 0;
};

// The narrowest strip from this side in which all that is placed finds room, by halving.
SideStrips strips_from(KeptSide side, const UsableMap& map, const Orders& orders, const PlacementOptions& options,
                       const Problem& whole, std::size_t wanted, std::uint64_t total) {
  // Six halvings leave the strip's edge uncertain by 1/64 of the sheet; each gets a small share of the work.
  constexpr int kHalvings = 6;
  constexpr std::uint64_t kShare = 40;
  SideStrips found;
  double fails = 0.0, holds_at = 1.0;
  for (int i = 0; i < kHalvings; ++i) {
    const double share = (fails + holds_at) / 2;
    const UsableMap part = strip_of(map, side, share);
    const Region outline = outline_of(part);
    const double area = area_mm2(outline);
    bool held = false;
    if (area > 0.0 && room_for(wanted, whole, outline)) {
      Problem problem = make_problem(part, orders, options, whole.obstacles);
      Search search{options, total / kShare};
      Layout layout = place_all(problem, search, found.spent);
      if (search.interrupted) break;
      held = layout.size() == wanted;
      if (held && (!found.best || area < found.best->area_mm2))
        found.best = Strip{std::move(problem), std::move(layout), area};
    }
    (held ? holds_at : fails) = share;
  }
  return found;
}

// Keeps as much of the sheet as possible in one piece: the strip of least area of those from all sides. None when no
// strip does, or when something is pinned or fills anyway.
std::optional<Strip> narrowest_strip(const UsableMap& map, const Orders& orders, const PlacementOptions& options,
                                     const Problem& whole, std::size_t wanted, std::uint64_t total,
                                     std::uint64_t& spent) {
  PlacementOptions quiet = options;
  quiet.threads = 1;  // the sides share them
  std::mutex telling;
  if (options.progress) {
    quiet.progress = [&](int, double) {
      const std::lock_guard lock(telling);
      return options.progress(static_cast<int>(wanted), 1.0);
    };
  }
  std::array<SideStrips, kSides.size()> found;
  side_by_side(
      kSides.size(),
      [&](std::size_t i) { found[i] = strips_from(kSides[i], map, orders, quiet, whole, wanted, total); },
      static_cast<unsigned>(options.threads));
  std::optional<Strip> best;
  double least_mm2 = area_mm2(outline_of(map));
  for (SideStrips& side : found) {
    spent += side.spent;
    if (!side.best || side.best->area_mm2 >= least_mm2) continue;
    least_mm2 = side.best->area_mm2;
    best = std::move(side.best);
  }
  return best;
}

std::string id_of(const std::string& sheet, int number) {
  char digits[16];
  std::snprintf(digits, sizeof digits, "-%02d", number);
  return (sheet.empty() ? "sheet" : sheet) + digits;
}

std::vector<std::string> harmless(const Problem& problem, const Disc& disc) {
  const double saw = problem.kinds[static_cast<std::size_t>(disc.kind)].saw->outer_mm / 2;
  std::vector<std::string> ids;
  for (const Obstacle& o : *problem.obstacles) {
    if (o.kind == FeatureKind::defect && !o.id.empty() && reach(o, disc.at).least <= saw) ids.push_back(o.id);
  }
  return ids;
}

Blank blank_of(const Problem& problem, const Disc& disc, const std::string& id) {
  const Kind& kind = problem.kinds[static_cast<std::size_t>(disc.kind)];
  Blank blank;
  blank.id = id;
  blank.ring = kind.ring->name;
  blank.centre = disc.at;
  blank.saw = kind.saw->name;
  blank.saw_outer_mm = kind.saw->outer_mm;
  blank.kerf_mm = kind.saw->kerf_mm;
  blank.inner_diameter_mm = kind.ring->inner_diameter_mm;
  blank.outer_diameter_mm = kind.ring->inner_diameter_mm + 2 * kind.ring->wall_mm;
  blank.clearance_mm = kind.field->clearance(disc.at);
  blank.harmless_defects = harmless(problem, disc);
  return blank;
}

std::string reason_for(const Problem& problem, int kind, int placed) {
  if (problem.field(kind).empty()) return "no place on this sheet is wide enough for its saw and free of barred places";
  if (placed == 0) return "no place that is free of defects is left for it beside the rings placed before it";
  return "no room for more was found beside the rings that are placed";
}

void add_unplaced(const Problem& problem, const Layout& layout, Plan& plan) {
  plan.unplaced = problem.refused;
  for (std::size_t k = 0; k < problem.kinds.size(); ++k) {
    const auto placed = static_cast<int>(
        std::count_if(layout.begin(), layout.end(), [&](const Disc& d) { return d.kind == static_cast<int>(k); }));
    const RingOrder& ring = *problem.kinds[k].ring;
    const int missing = ring.count ? *ring.count - placed : 0;
    if (missing > 0 || (!ring.count && problem.kinds[k].field->empty()))
      plan.unplaced.push_back({ring.name, missing, reason_for(problem, static_cast<int>(k), placed)});
  }
}

// Blanks of the smallest saw alone, on the outline alone.
int count_flawless(const UsableMap& map, Orders orders, const PlacementOptions& options,
                   const std::atomic<bool>& halted) {
  const HoleSaw* smallest = nullptr;
  RingOrder ring;
  for (const RingOrder& r : orders.rings) {
    const HoleSaw* saw = choose_saw(r, orders);
    if (saw == nullptr || (smallest != nullptr && saw->outer_mm >= smallest->outer_mm)) continue;
    smallest = saw;
    ring = r;
  }
  if (smallest == nullptr) return 0;
  ring.count.reset();
  orders.rings = {ring};
  PlacementOptions quiet;
  quiet.seed = options.seed;
  quiet.progress = [&](int, double) { return !halted.load(); };
  const Problem problem = make_problem(map, orders, quiet, std::make_shared<const std::vector<Obstacle>>());
  if (problem.kinds.empty()) return 0;
  const std::uint64_t total = options.evaluations == 0 ? kDefaultEvaluations : options.evaluations;
  Search search{quiet, total / kFlawlessShare};
  std::uint64_t spent = 0;
  return static_cast<int>(place_all(problem, search, spent).size());
}

void in_reading_order(Layout& layout) {
  std::sort(layout.begin(), layout.end(),
            [](const Disc& a, const Disc& b) { return a.at.y != b.at.y ? a.at.y < b.at.y : a.at.x < b.at.x; });
}

}  // namespace

Plan place_blanks(const UsableMap& map, const Orders& orders, const PlacementOptions& options) {
  Problem problem = make_problem(map, orders, options, obstacles_of(map));
  // Who stops the search stops all of it.
  std::atomic<bool> halted{false};
  PlacementOptions watched = options;
  if (options.progress) {
    watched.progress = [&](int placed, double share) {
      const bool on = options.progress(placed, share);
      if (!on) halted = true;
      return on;
    };
  }
  const auto flawless = std::async(options.threads > 1 ? std::launch::async : std::launch::deferred, [&] {
                          return count_flawless(map, orders, options, halted);
                        }).share();
  Search search{watched, options.evaluations == 0 ? kDefaultEvaluations : options.evaluations};
  Plan plan;
  plan.seed = options.seed;
  Layout layout = place_all(problem, search, plan.evaluations);
  plan.bound_proven = proven_bound(problem);
  add_unplaced(problem, layout, plan);
  const bool fills =
      std::any_of(problem.kinds.begin(), problem.kinds.end(), [](const Kind& k) { return !k.ring->count; });
  if (options.leftover_strip && !fills && plan.unplaced.empty() && options.pins.empty() && !search.interrupted) {
    auto strip = narrowest_strip(map, orders, watched, problem, layout.size(), search.total, plan.evaluations);
    if (strip) {
      problem = std::move(strip->problem);
      layout = std::move(strip->layout);
    }
  }
  if (!search.interrupted) spend_clearance(problem, layout, plan.evaluations);
  in_reading_order(layout);
  int number = options.first_number;
  for (const Disc& disc : layout) plan.blanks.push_back(blank_of(problem, disc, id_of(map.sheet_id, number++)));
  plan.bound_flawless = std::max(flawless.get(), static_cast<int>(layout.size()));
  plan.stopped_by = search.interrupted ? "interrupted" : fills || !plan.unplaced.empty() ? "evaluations" : "complete";
  return plan;
}

}  // namespace sheetloupe
