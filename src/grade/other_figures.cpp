// Turns of the weave and what the cut edges show.
#include <algorithm>
#include <cmath>

#include "grade/measures.h"

namespace sheetloupe::grading {
namespace {

// The 95th percentile of the absolute turns, by the nearest rank.
double p95(std::vector<double>& turns) {
  const auto rank = static_cast<std::size_t>(std::ceil(0.95 * static_cast<double>(turns.size()))) - 1;
  std::nth_element(turns.begin(), turns.begin() + static_cast<std::ptrdiff_t>(rank), turns.end());
  return turns[rank];
}

// A zone with fewer readings than this share of its cells says too little for a 95th percentile.
constexpr double kLeastRead = 0.5;

struct Worst {
  double deg = -1.0;
  SheetPoint from;
};

Worst worst_zone(const TurnGrid& grid, const std::vector<std::optional<double>>& turns, double zone_mm) {
  Worst worst;
  const int cells = std::max(1, static_cast<int>(std::lround(zone_mm / grid.step_mm)));
  const int step = std::max(1, cells / 2);
  const int wide = std::min(cells, grid.columns), high = std::min(cells, grid.rows);
  for (int r = 0; r + high <= grid.rows; r += step) {
    for (int c = 0; c + wide <= grid.columns; c += step) {
      std::vector<double> inside;
      for (int i = r; i < r + high; ++i) {
        for (int j = c; j < c + wide; ++j) {
          const auto& t = turns[static_cast<std::size_t>(i) * grid.columns + j];
          if (t) inside.push_back(std::abs(*t));
        }
      }
      if (static_cast<double>(inside.size()) < std::max(1.0, kLeastRead * wide * high)) continue;
      const double deg = p95(inside);
      if (deg > worst.deg) worst = {deg, {grid.origin.x + c * grid.step_mm, grid.origin.y + r * grid.step_mm}};
    }
  }
  return worst;
}

void keep_worst(Figure& figure, double deg, double u95, const std::string& where) {
  if (figure.value && deg <= *figure.value) return;
  figure.value = deg;
  figure.u95 = u95;
  figure.low = std::max(0.0, deg - u95);
  figure.high = deg + u95;
  figure.where = where;
}

std::string place(SheetPoint from, const std::string& role) {
  return "the zone from " + std::to_string(std::lround(from.x)) + ", " + std::to_string(std::lround(from.y)) +
         " mm on the " + role;
}

}  // namespace

Figure turn(const GradeInput& input, const Limit& limit) {
  Figure figure;
  for (const GradeFace& face : input.faces) {
    if (!face.weave_found) {
      if (figure.reason.empty()) figure.reason = face.weave_reason.empty() ? face.reason : face.weave_reason;
      continue;
    }
    // A percentile is read from many places; each place's own error both blurs and widens it. Its full size is kept,
    // which is the careful side.
    if (limit.measure == Measure::shear_p95) {
      keep_worst(figure, face.shear_p95_deg, std::sqrt(2.0) * face.local_u95_deg, "the " + face.role);
    } else if (!limit.zone_mm) {
      keep_worst(figure, face.turn_p95_deg, face.local_u95_deg, "the " + face.role);
    } else {
      for (const auto* turns : {&face.turns.warp_deg, &face.turns.weft_deg}) {
        const Worst worst = worst_zone(face.turns, *turns, *limit.zone_mm);
        if (worst.deg >= 0) keep_worst(figure, worst.deg, face.local_u95_deg, place(worst.from, face.role));
      }
    }
  }
  if (figure.value) figure.reason.clear();
  if (!figure.value && figure.reason.empty()) figure.reason = "the weave was not read";
  return figure;
}

Figure edge_figure(const GradeInput& input, Measure measure) {
  Figure figure;
  for (const GradeEdge& edge : input.edges) {
    double value = 0.0, low = 0.0, high = 0.0;
    std::optional<double> u95;
    if (measure == Measure::plies_off) {
      if (!edge.plies_off) continue;
      low = (*edge.plies_off)[0];
      value = high = (*edge.plies_off)[1];
    } else {
      const auto& found = measure == Measure::split_length ? edge.longest_split_mm : edge.spread_mm;
      if (!found) continue;
      if (measure == Measure::thickness_spread) u95 = edge.spread_u95_mm;
      value = *found;
      low = std::max(0.0, value - u95.value_or(0.0));
      high = value + u95.value_or(0.0);
    }
    if (figure.value && value <= *figure.value) continue;
    figure.value = value;
    figure.u95 = u95;
    figure.low = low;
    figure.high = high;
    figure.where = "the " + edge.side + " edge";
  }
  if (!figure.value) figure.reason = input.edges.empty() ? "no cut edge was photographed" : "no cut edge could be read";
  return figure;
}

}  // namespace sheetloupe::grading
