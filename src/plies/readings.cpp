#include "plies/readings.h"

#include <algorithm>
#include <cmath>

namespace sheetloupe::plies {
namespace {

double quantile(std::vector<double> v, double share) {
  if (v.empty()) return 0;
  std::sort(v.begin(), v.end());
  const double place = share * (static_cast<double>(v.size()) - 1);
  const auto i = static_cast<std::size_t>(place);
  return i + 1 < v.size() ? v[i] + (place - static_cast<double>(i)) * (v[i + 1] - v[i]) : v[i];
}

double mean_of(const std::vector<double>& v) {
  double sum = 0;
  for (const double x : v) sum += x;
  return v.empty() ? 0 : sum / static_cast<double>(v.size());
}

// What can be said of one count by itself; comparisons with other counts follow when all are read.
struct Own {
  double swap = 0, swap_grey = 0, swap_grain = 0, swap_low = 0, swap_least = 0, swap_half = 0, swap_pair = 0,
         swap_across = 0;
  double gap_scatter = 0, outer_gap = 0;
};

Own own_of(const Evidence& evidence, Candidate& candidate) {
  Own own;
  const auto& rows = candidate.lines.rows;
  const int n = candidate.lines.n;
  std::vector<double> both, grey, grain, half, pair, across, gaps;
  for (int k = 0; k < n; ++k) {
    candidate.swaps.push_back(evidence.swap(rows[k], rows[k + 1]));
    both.push_back(candidate.swaps.back().both);
    grey.push_back(candidate.swaps.back().grey);
    grain.push_back(candidate.swaps.back().grain);
    const double middle = 0.5 * (rows[k] + rows[k + 1]);
    half.push_back(evidence.swap(rows[k], middle).both);
    half.push_back(evidence.swap(middle, rows[k + 1]).both);
    if (k + 2 <= n) {
      pair.push_back(evidence.swap(rows[k], rows[k + 2]).both);
      across.push_back(evidence.swap_across(rows[k], rows[k + 1], rows[k + 2]));
    }
    gaps.push_back(rows[k + 1] - rows[k]);
  }
  own.swap = mean_of(both);
  own.swap_grey = mean_of(grey);
  own.swap_grain = mean_of(grain);
  own.swap_low = quantile(both, 0.2);
  own.swap_least = quantile(both, 0);
  own.swap_half = mean_of(half);
  own.swap_pair = mean_of(pair);
  own.swap_across = mean_of(across);
  const double middle_gap = quantile(gaps, 0.5);
  double square = 0;
  for (const double g : gaps) square += std::pow(g / middle_gap - 1, 2);
  own.gap_scatter = std::sqrt(square / n);
  own.outer_gap = std::max(std::abs(std::log(gaps.front() / middle_gap)), std::abs(std::log(gaps.back() / middle_gap)));
  return own;
}

}  // namespace

const std::vector<const char*>& reading_names() {
  static const std::vector<const char*> names = {"t",
                                                 "log_t",
                                                 "line_less_control",
                                                 "low_line_less_high_control",
                                                 "profile_ridge",
                                                 "swap",
                                                 "swap_grey",
                                                 "swap_grain",
                                                 "swap_low",
                                                 "swap_least",
                                                 "swap_half",
                                                 "swap_pair",
                                                 "swap_across",
                                                 "gap_scatter",
                                                 "outer_gap",
                                                 "comb",
                                                 "comb_double",
                                                 "like_one",
                                                 "like_half",
                                                 "merit",
                                                 "merit_to_best",
                                                 "merit_to_next",
                                                 "t_to_next",
                                                 "t_to_double",
                                                 "t_to_best",
                                                 "swap_to_best",
                                                 "swap_to_next",
                                                 "swap_to_double",
                                                 "swap_to_half",
                                                 "left_right",
                                                 "log_n",
                                                 "few"};
  return names;
}

std::vector<Candidate> read_candidates(Evidence& evidence, int least, int most) {
  std::vector<Candidate> all;
  std::vector<Own> own;
  double most_comb = 1e-12;
  for (int n = least; n <= most && evidence.rows() / n >= 5; ++n) {
    Candidate candidate;
    candidate.lines = place_lines(evidence, n);
    if (candidate.lines.rows.empty()) continue;
    follow_lines(evidence, candidate.lines);
    own.push_back(own_of(evidence, candidate));
    most_comb = std::max(most_comb, evidence.comb(n));
    all.push_back(std::move(candidate));
  }
  const auto find = [&](int n) -> int {
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (all[i].lines.n == n) return static_cast<int>(i);
    }
    return -1;
  };
  double best_t = -1e9, best_merit = -1e9, best_swap = -1e9;
  for (std::size_t i = 0; i < all.size(); ++i) {
    best_t = std::max(best_t, all[i].lines.t);
    best_merit = std::max(best_merit, all[i].lines.merit);
    best_swap = std::max(best_swap, own[i].swap);
  }
  for (std::size_t i = 0; i < all.size(); ++i) {
    const Hypothesis& h = all[i].lines;
    const Own& o = own[i];
    double next_t = -1e9, next_merit = -1e9, next_swap = -1e9;
    for (const int m : {h.n - 1, h.n + 1}) {
      const int j = find(m);
      if (j < 0) continue;
      next_t = std::max(next_t, all[j].lines.t);
      next_merit = std::max(next_merit, all[j].lines.merit);
      next_swap = std::max(next_swap, own[j].swap);
    }
    const int twice = find(2 * h.n), half = find(h.n / 2);
    const double pitch = static_cast<double>(evidence.rows()) / h.n;
    const auto limited_t = [](double t) { return std::clamp(t, -5.0, 25.0) / 5; };
    const double line = mean_of(h.line_values), control = mean_of(h.control_values);
    all[i].readings = {limited_t(h.t),
                       std::log(std::max(0.3, h.t)),
                       line - control,
                       quantile(h.line_values, 0.2) - quantile(h.control_values, 0.8),
                       h.mean_z,
                       o.swap,
                       o.swap_grey,
                       o.swap_grain,
                       o.swap_low,
                       o.swap_least,
                       o.swap_half,
                       o.swap_pair,
                       o.swap_across,
                       o.gap_scatter,
                       o.outer_gap,
                       std::log(evidence.comb(h.n) / most_comb + 1e-3),
                       std::log(evidence.comb(2 * h.n) / most_comb + 1e-3),
                       evidence.autocorrelation(pitch),
                       evidence.autocorrelation(pitch / 2),
                       h.merit,
                       h.merit - best_merit,
                       h.merit - next_merit,
                       limited_t(h.t) - limited_t(next_t),
                       twice >= 0 ? limited_t(h.t) - limited_t(all[twice].lines.t) : 0.0,
                       limited_t(h.t) - limited_t(best_t),
                       o.swap - best_swap,
                       o.swap - next_swap,
                       twice >= 0 ? o.swap - own[twice].swap : 0.0,
                       half >= 0 && h.n % 2 == 0 ? o.swap - own[half].swap : 0.0,
                       h.left_right,
                       std::log(static_cast<double>(h.n)),
                       h.n <= 3 ? 1.0 : 0.0};
  }
  return all;
}

}  // namespace sheetloupe::plies
