#include "plies/tracks.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sheetloupe/wide.h"

namespace sheetloupe::plies {
namespace {

// Heights of plies in one sheet scatter by some 12 % (of generated sheets 2 to 12 %); the outer ones carry resin skins
// or lost some in sanding and are held 1.6 times looser.
constexpr double kGapScatter = 0.12, kOuterLooser = 1.6;
// Weights of the three voices in placing lines: a ridge of one scatter, full swapping, a gap one scatter off.
constexpr double kRidgeWeight = 0.5, kSwapWeight = 1.5, kGapWeight = 0.5;

std::vector<double> mean_profile(const cv::Mat1f& ridges, int polarity) {
  std::vector<double> z(ridges.rows);
  double square = 0;
  for (int r = 0; r < ridges.rows; ++r) {
    double sum = 0;
    for (int c = 0; c < ridges.cols; ++c) sum += ridges(r, c);
    z[r] = polarity * sum / ridges.cols;
    square += z[r] * z[r];
  }
  const double scatter = std::sqrt(square / ridges.rows) + 1e-9;
  for (double& v : z) v = std::min(3.0, v / scatter);
  return z;
}

struct Placed {
  double merit = -1e18;
  std::vector<int> rows;
};

// What a line would be worth below every one of the line above.
SHEETLOUPE_WIDE void values_below(const double* before, const float* swap, const double* cost, double ridge, int count,
                                  double* value) {
  for (int i = 0; i < count; ++i) value[i] = before[i] + kSwapWeight * swap[i] - cost[i] + ridge;
}

// Dynamic programme over the lines from top to bottom.
Placed best_placing(const Evidence& evidence, const std::vector<double>& z, int n) {
  const int rows = evidence.rows();
  const double pitch = static_cast<double>(rows) / n;
  std::vector<std::vector<double>> best(n + 1, std::vector<double>(rows + 1, -1e18));
  std::vector<std::vector<int>> from(n + 1, std::vector<int>(rows + 1, -1));
  best[0][0] = 0;
  for (int k = 1; k <= n; ++k) {
    const bool outer = k == 1 || k == n;
    const double scatter = kGapScatter * pitch * (outer ? kOuterLooser : 1.0);
    const int least = std::max(2, cvFloor(0.5 * pitch)), most = cvCeil(1.6 * pitch);
    const int reach = cvCeil(1.2 * pitch);  // lines stay near their even places
    const int middle = cvRound(k * pitch);
    // By the line above, from the farthest to the nearest, as both tables below lie in memory.
    const int above = most - least + 1;
    std::vector<double> cost(above), value(above);
    for (int i = 0; i < above; ++i) cost[i] = kGapWeight * 0.5 * std::pow((most - i - pitch) / scatter, 2);
    for (int r = std::max(1, middle - reach); r <= std::min(rows, middle + reach); ++r) {
      if (k == n && r != rows) continue;
      if (k < n && r >= rows) continue;
      const double ridge = k < n ? kRidgeWeight * z[r] : 0.0;
      const int first = std::max(0, most - r);  // a line above the face is none
      if (first >= above) continue;
      values_below(&best[k - 1][r - most + first], evidence.swaps_down_to(r) + (r - most + first), &cost[first], ridge,
                   above - first, &value[first]);
      for (int i = above - 1; i >= first; --i) {
        if (value[i] <= best[k][r] || value[i] < -1e17) continue;
        best[k][r] = value[i];
        from[k][r] = r - most + i;
      }
    }
  }
  Placed placed;
  if (best[n][rows] < -1e17) return placed;
  placed.merit = best[n][rows] / n;
  placed.rows.assign(n + 1, rows);
  for (int k = n; k > 0; --k) placed.rows[k - 1] = from[k][placed.rows[k]];
  return placed;
}

// Where a step by `by` states is worth more than the best one so far, it becomes that.
SHEETLOUPE_WIDE void try_step(const double* there, double price, double by, int count, double* best, double* step) {
  for (int s = 0; s < count; ++s) {
    const double value = there[s] - price;
    step[s] = value > best[s] ? by : step[s];
    best[s] = value > best[s] ? value : best[s];
  }
}

// The best path of one line through all windows within `corridor` rows of `centre`.
std::vector<double> follow(const cv::Mat1f& ridges, int polarity, double centre, double corridor, double stiff) {
  const int low = std::max(0, cvFloor(centre - corridor)), high = std::min(ridges.rows - 1, cvCeil(centre + corridor));
  const int states = high - low + 1, windows = ridges.cols,
            jump = std::max(1, std::min(states - 1, cvCeil(2.5 * stiff)));
  // States are looked at side by side, with room for the jumps beyond both ends, which are never the best.
  std::vector<double> cost(states + 2 * jump, -1e18), best(states), step(states);
  std::vector<std::vector<int>> from(windows, std::vector<int>(states, 0));
  for (int s = 0; s < states; ++s) cost[jump + s] = polarity * ridges(low + s, 0);
  for (int w = 1; w < windows; ++w) {
    std::fill(best.begin(), best.end(), -1e18);
    for (int d = -jump; d <= jump; ++d) {
      try_step(cost.data() + jump + d, 0.5 * std::pow(d / stiff, 2), d, states, best.data(), step.data());
    }
    for (int s = 0; s < states; ++s) {
      from[w][s] = s + static_cast<int>(step[s]);
      cost[jump + s] = best[s] + polarity * ridges(low + s, w);
    }
  }
  std::vector<double> path(windows);
  int s = static_cast<int>(std::max_element(cost.begin() + jump, cost.end() - jump) - cost.begin()) - jump;
  for (int w = windows - 1; w >= 0; --w) {
    path[w] = low + s;
    s = from[w][s];
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
      const std::vector<double> z = mean_profile(evidence.ridges(sigma), polarity);
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
