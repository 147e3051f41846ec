#include "plies/tracks.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "plies/lanes.h"
#include "sheetloupe/wide.h"

namespace sheetloupe::plies {
namespace {

// Heights of plies in one sheet scatter by some 12 % (of generated sheets 2 to 12 %); the outer ones carry resin skins
// or lost some in sanding and are held 1.6 times looser.
constexpr double kGapScatter = 0.12, kOuterLooser = 1.6;
// Weights of the three voices in placing lines: a ridge of one scatter, full swapping, a gap one scatter off.
constexpr double kRidgeWeight = 0.5, kSwapWeight = 1.5, kGapWeight = 0.5;

struct Placed {
  double merit = -1e18;
  std::vector<int> rows;
};

// Where lines below layers of one height are worth more than the best so far, they become that.
SHEETLOUPE_WIDE void try_gap(const double* above, const float* swap, const double* ridge, double cost, double gap,
                             int count, double* best, double* gaps) {
  for (int i = 0; i < count; ++i) {
    const double value = above[i] + kSwapWeight * swap[i] - cost + ridge[i];
    gaps[i] = value > best[i] ? gap : gaps[i];
    best[i] = value > best[i] ? value : best[i];
  }
}

// Dynamic programme over the lines from top to bottom. `profile`: of the ridges, a line's own kind positive.
Placed best_placing(const Evidence& evidence, const std::vector<double>& profile, int n) {
  const int rows = evidence.rows();
  const double pitch = static_cast<double>(rows) / n;
  // By row: the worth of the best lines down to there. By line and row: the height of the layer above.
  std::vector<double> best(rows + 1, -1e18), above;
  cv::Mat1d gaps = cv::Mat1d::zeros(n + 1, rows + 1);
  std::vector<double> ridge;
  for (const double z : profile) ridge.push_back(kRidgeWeight * z);
  ridge.push_back(0.0);  // the lower face is no ridge
  best[0] = 0;
  for (int k = 1; k <= n; ++k) {
    above.assign(rows + 1, -1e18);
    std::swap(above, best);
    const bool outer = k == 1 || k == n;
    const double scatter = kGapScatter * pitch * (outer ? kOuterLooser : 1.0);
    const int least = std::max(2, cvFloor(0.5 * pitch)), most = cvCeil(1.6 * pitch);
    const int reach = cvCeil(1.2 * pitch), middle = cvRound(k * pitch);  // lines stay near their even places
    const int low = k < n ? std::max(1, middle - reach) : rows,
              high = k < n ? std::min(rows - 1, middle + reach) : rows;
    for (int gap = least; gap <= std::min(most, high); ++gap) {
      const int from = std::max(low, gap);  // a line above the face is none
      const double cost = kGapWeight * 0.5 * std::pow((gap - pitch) / scatter, 2);
      try_gap(&above[from - gap], evidence.swaps_of_height(gap) + from, &ridge[from], cost, gap, high - from + 1,
              &best[from], gaps[k] + from);
    }
  }
  Placed placed;
  if (best[rows] < -1e17) return placed;
  placed.merit = best[rows] / n;
  placed.rows.assign(n + 1, rows);
  for (int k = n; k > 0; --k) placed.rows[k - 1] = placed.rows[k] - static_cast<int>(gaps(k, placed.rows[k]));
  return placed;
}

constexpr int kLanes = 4;

// Every state's best step from those of the window before, by -`jump` to `jump` states. `cost` reaches `jump` states
// beyond both ends; `count` is a multiple of kLanes.
SHEETLOUPE_WIDE void best_steps(const double* cost, const double* prices, int jump, int count, double* best,
                                double* step) {
  for (int s = 0; s < count; s += kLanes) {
    FourDoubles most = FourDoubles{} - 1e18, by = {};
    for (int d = -jump; d <= jump; ++d) {
      const FourDoubles value = four_at(cost + s + jump + d) - prices[jump + d];
      by = value > most ? FourDoubles{} + d : by;
      most = value > most ? value : most;
    }
    four_at(best + s) = most;
    four_at(step + s) = by;
  }
}

// The best path of one line through all windows within `corridor` rows of `centre`.
std::vector<double> follow(const cv::Mat1f& ridges, int polarity, double centre, double corridor, double stiff) {
  const int low = std::max(0, cvFloor(centre - corridor)), high = std::min(ridges.rows - 1, cvCeil(centre + corridor));
  const int states = high - low + 1, windows = ridges.cols,
            jump = std::max(1, std::min(states - 1, cvCeil(2.5 * stiff)));
  // States are looked at side by side, with room for the jumps beyond both ends, which are never the best.
  const int count = (states + kLanes - 1) / kLanes * kLanes;
  std::vector<double> cost(count + 2 * jump, -1e18), best(count), step(count), prices;
  for (int d = -jump; d <= jump; ++d) prices.push_back(0.5 * std::pow(d / stiff, 2));
  cv::Mat1i from(windows, states);
  for (int s = 0; s < states; ++s) cost[jump + s] = polarity * ridges(low + s, 0);
  for (int w = 1; w < windows; ++w) {
    best_steps(cost.data(), prices.data(), jump, count, best.data(), step.data());
    for (int s = 0; s < states; ++s) {
      from(w, s) = s + static_cast<int>(step[s]);
      cost[jump + s] = best[s] + polarity * ridges(low + s, w);
    }
  }
  std::vector<double> path(windows);
  const auto end = std::max_element(cost.begin() + jump, cost.begin() + jump + states);
  int s = static_cast<int>(end - cost.begin()) - jump;
  path[windows - 1] = low + s;
  for (int w = windows - 1; w > 0; --w) {
    s = from(w, s);
    path[w - 1] = low + s;
  }
  return path;
}

// Mean ridge height on a path over windows [from, to).
double on_path(const cv::Mat1f& ridges, int polarity, const std::vector<double>& path, int from, int to) {
  double sum = 0;
  for (int w = from; w < to; ++w) sum += polarity * ridges(cvRound(path[w]), w);
  return sum / (to - from);
}

double mean_of(const std::vector<double>& v) {
  return v.empty() ? 0 : std::accumulate(v.begin(), v.end(), 0.0) / v.size();
}

double squares_about(const std::vector<double>& v, double mean) {
  double sum = 0;
  for (const double x : v) sum += (x - mean) * (x - mean);
  return sum;
}

double likeness(const std::vector<double>& a, const std::vector<double>& b) {
  const double ma = mean_of(a), mb = mean_of(b);
  double cross = 0;
  for (std::size_t i = 0; i < a.size(); ++i) cross += (a[i] - ma) * (b[i] - mb);
  return cross / std::sqrt(squares_about(a, ma) * squares_about(b, mb) + 1e-9);
}

}  // namespace

Hypothesis place_lines(Evidence& evidence, int n) {
  Hypothesis best;
  best.n = n;
  best.merit = -1e18;
  const double pitch = static_cast<double>(evidence.rows()) / n;
  for (const double sigma : Evidence::sigmas()) {
    const bool smallest = sigma == Evidence::sigmas().front();
    if ((sigma < 0.045 * pitch || sigma > 0.16 * pitch) && !(smallest && pitch < 8)) continue;
    for (const int polarity : {1, -1}) {
      std::vector<double> z = evidence.ridge_profile(sigma);
      for (double& v : z) v = std::min(3.0, polarity * v);
      const Placed placed = best_placing(evidence, z, n);
      if (placed.rows.empty() || placed.merit <= best.merit) continue;
      best.merit = placed.merit;
      best.sigma = sigma;
      best.polarity = polarity;
      best.rows.assign(placed.rows.begin(), placed.rows.end());
      best.mean_z = 0;
      for (int k = 1; k < n; ++k) best.mean_z += z[placed.rows[k]] / (n - 1);
    }
  }
  return best;
}

void follow_lines(Evidence& evidence, Hypothesis& h) {
  const cv::Mat1f& ridges = evidence.ridges(h.sigma);
  const double pitch = static_cast<double>(evidence.rows()) / h.n;
  const double corridor = 0.3 * pitch, stiff = std::max(0.5, 0.10 * pitch);
  constexpr int kHalf = Evidence::kWindows / 2;
  std::vector<double> left, right;
  for (int k = 0; k < h.n; ++k) {
    const auto middle = follow(ridges, h.polarity, 0.5 * (h.rows[k] + h.rows[k + 1]), corridor, stiff);
    h.control_values.push_back(on_path(ridges, h.polarity, middle, 0, Evidence::kWindows));
    if (k == 0) continue;
    h.tracks.push_back(follow(ridges, h.polarity, h.rows[k], corridor, stiff));
    left.push_back(on_path(ridges, h.polarity, h.tracks.back(), 0, kHalf));
    right.push_back(on_path(ridges, h.polarity, h.tracks.back(), kHalf, Evidence::kWindows));
    h.line_values.push_back(0.5 * (left.back() + right.back()));
  }
  h.left_right = h.n > 3 ? likeness(left, right) : 0.0;
  const double lines = mean_of(h.line_values), controls = mean_of(h.control_values);
  const double freedom = std::max(1.0, 2.0 * h.n - 3.0);
  // A twentieth of a scatter keeps few and by chance equal values from looking certain.
  const double pooled =
      std::sqrt((squares_about(h.line_values, lines) + squares_about(h.control_values, controls)) / freedom + 0.0025);
  h.t = (lines - controls) / (pooled * std::sqrt(1.0 / std::max(1, h.n - 1) + 1.0 / h.n));
}

}  // namespace sheetloupe::plies
