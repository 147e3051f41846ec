// Charts of single values: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals), 6.3.2.3 (CUSUM),
// 6.3.2.4 (EWMA).
#include <algorithm>
#include <cmath>
#include <numeric>

#include "sheetloupe/trend.h"

namespace sheetloupe {
namespace {

// Mean range of two normal values over their sigma; upper 3 sigma limit of that range over its mean. The handbook
// divides by 1.128 as rounded, so its limits are met to the fourth decimal only with this figure.
constexpr double kD2 = 1.128, kD4 = 3.267;

int zone_of(double z) {
  const double a = std::abs(z);
  const int zone = a > 3 ? 3 : a > 2 ? 2 : a > 1 ? 1 : 0;
  return z < 0 ? -zone : zone;
}

// How many of the newest `n` lie in `zone` or farther out on this side.
int beyond(const std::array<int, 5>& zones, std::size_t n, int zone, int side) {
  int count = 0;
  for (std::size_t i = 0; i < n; ++i) count += zones[i] * side >= zone ? 1 : 0;
  return count;
}

}  // namespace

std::optional<Signal> RunRules::step(double z, bool all) {
  std::move_backward(zones_.begin(), zones_.end() - 1, zones_.end());
  zones_[0] = zone_of(z);
  const int side = z < 0 ? -1 : 1;
  run_ = z == 0.0 ? 0 : run_ * side > 0 ? run_ + side : side;
  const std::size_t index = count_++;
  const int here = zones_[0] * side;
  if (here >= 3) return Signal{index, RunRule::beyond_3_sigma, side};
  if (!all) return {};
  if (here >= 2 && beyond(zones_, 3, 2, side) >= 2) return Signal{index, RunRule::two_of_three_beyond_2, side};
  if (here >= 1 && beyond(zones_, 5, 1, side) >= 4) return Signal{index, RunRule::four_of_five_beyond_1, side};
  if (std::abs(run_) >= 8) return Signal{index, RunRule::eight_on_one_side, side};
  return {};
}

std::optional<IndividualsChart> individuals_chart(std::span<const double> x, std::size_t baseline) {
  const std::size_t n = baseline == 0 ? x.size() : std::min(baseline, x.size());
  if (n < 2) return {};
  IndividualsChart chart;
  for (std::size_t i = 1; i < x.size(); ++i) chart.moving_range.push_back(std::abs(x[i] - x[i - 1]));
  const auto ranges = chart.moving_range.begin();
  chart.mean = std::accumulate(x.begin(), x.begin() + static_cast<std::ptrdiff_t>(n), 0.0) / static_cast<double>(n);
  chart.mean_range =
      std::accumulate(ranges, ranges + static_cast<std::ptrdiff_t>(n - 1), 0.0) / static_cast<double>(n - 1);
  chart.sigma = chart.mean_range / kD2;
  if (!(chart.sigma > 0)) return {};
  chart.lower = chart.mean - 3 * chart.sigma;
  chart.upper = chart.mean + 3 * chart.sigma;
  chart.range_upper = kD4 * chart.mean_range;
  RunRules rules;
  for (const double value : x) {
    if (const auto signal = rules.step((value - chart.mean) / chart.sigma)) chart.signals.push_back(*signal);
  }
  return chart;
}

EwmaChart ewma_chart(std::span<const double> x, double target, double sigma, double lambda, double k) {
  EwmaChart chart;
  const double half = k * sigma * std::sqrt(lambda / (2 - lambda));
  chart.lower = target - half;
  chart.upper = target + half;
  double value = target;
  for (const double next : x) {
    value = lambda * next + (1 - lambda) * value;
    if (!chart.first_signal && (value > chart.upper || value < chart.lower)) chart.first_signal = chart.value.size();
    chart.value.push_back(value);
  }
  return chart;
}

CusumChart cusum_chart(std::span<const double> x, double target, double k, double h) {
  CusumChart chart;
  double high = 0.0, low = 0.0;
  for (const double value : x) {
    high = std::max(0.0, high + value - target - k);
    low = std::max(0.0, low + target - k - value);
    if (!chart.first_signal && (high > h || low > h)) chart.first_signal = chart.high.size();
    chart.high.push_back(high);
    chart.low.push_back(low);
  }
  return chart;
}

std::vector<ParetoBar> pareto(std::vector<std::pair<std::string, double>> amounts) {
  std::erase_if(amounts, [](const auto& a) { return !(a.second > 0); });
  std::sort(amounts.begin(), amounts.end(), [](const auto& a, const auto& b) {
    return a.second != b.second ? a.second > b.second : a.first < b.first;
  });
  double total = 0.0, running = 0.0;
  for (const auto& a : amounts) total += a.second;
  std::vector<ParetoBar> bars;
  for (const auto& [cause, amount] : amounts) {
    running += amount;
    bars.push_back({cause, amount, 100 * running / total});
  }
  return bars;
}

}  // namespace sheetloupe
