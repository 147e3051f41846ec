// Does a measure move with the recipe, and do forecasts hold.
#include <algorithm>
#include <cmath>
#include <numeric>

#include "sheetloupe/trend.h"
#include "trend/distributions.h"

namespace sheetloupe {
namespace {

double mean_of(std::span<const double> x) {
  return x.empty() ? 0.0 : std::accumulate(x.begin(), x.end(), 0.0) / static_cast<double>(x.size());
}

double squares(std::span<const double> x, double mean) {
  double sum = 0.0;
  for (const double v : x) sum += (v - mean) * (v - mean);
  return sum;
}

Effect too_few(std::size_t sheets, const std::string& reason) {
  Effect effect;
  effect.sheets = static_cast<int>(sheets);
  effect.reason = reason;
  return effect;
}

std::string not_enough(std::size_t sheets) {
  return "not enough sheets yet: " + std::to_string(sheets) + " of " + std::to_string(kLeastSheets);
}

void finish(Effect& effect, double error, double degrees) {
  effect.enough = true;
  const double half = trend::student_95(degrees) * error;
  effect.low = effect.value - half;
  effect.high = effect.value + half;
  effect.p = error > 0 ? trend::student_p(effect.value / error, degrees) : effect.value == 0.0 ? 1.0 : 0.0;
}

}  // namespace

Effect slope_effect(std::span<const double> x, std::span<const double> y) {
  const std::size_t n = std::min(x.size(), y.size());
  if (n < static_cast<std::size_t>(kLeastSheets)) return too_few(n, not_enough(n));
  const double mx = mean_of(x.first(n)), my = mean_of(y.first(n));
  const double sxx = squares(x.first(n), mx), syy = squares(y.first(n), my);
  // Values that differ by rounding only are one value.
  if (!(sxx > 1e-18 * (1 + mx * mx))) return too_few(n, "it was the same on every sheet");
  double sxy = 0.0;
  for (std::size_t i = 0; i < n; ++i) sxy += (x[i] - mx) * (y[i] - my);
  Effect effect;
  effect.sheets = static_cast<int>(n);
  effect.value = sxy / sxx;
  effect.standard = syy > 0 ? sxy / std::sqrt(sxx * syy) : 0.0;
  const double degrees = static_cast<double>(n) - 2;
  const double rest = std::max(0.0, syy - sxy * sxy / sxx);
  finish(effect, std::sqrt(rest / degrees / sxx), degrees);
  return effect;
}

Effect group_effect(std::span<const double> with, std::span<const double> without) {
  constexpr std::size_t kLeastInGroup = 3;
  const std::size_t a = with.size(), b = without.size();
  if (a + b < static_cast<std::size_t>(kLeastSheets)) return too_few(a + b, not_enough(a + b));
  if (std::min(a, b) < kLeastInGroup)
    return too_few(a + b, "not enough sheets yet: " + std::to_string(std::min(a, b)) + " of 3 on one side");
  const double ma = mean_of(with), mb = mean_of(without), na = static_cast<double>(a), nb = static_cast<double>(b);
  const double sa = squares(with, ma), sb = squares(without, mb);
  const double va = sa / (na - 1) / na, vb = sb / (nb - 1) / nb;  // of the means
  Effect effect;
  effect.sheets = static_cast<int>(a + b);
  effect.value = ma - mb;
  // Welch 1947: degrees of freedom when the two scatters may differ.
  const double degrees = va + vb > 0 ? (va + vb) * (va + vb) / (va * va / (na - 1) + vb * vb / (nb - 1)) : na + nb - 2;
  // Hedges 1981: difference over the pooled scatter, with the factor for few sheets.
  const double pooled = std::sqrt((sa + sb) / (na + nb - 2));
  effect.standard = pooled > 0 ? (1 - 3 / (4 * (na + nb) - 9)) * effect.value / pooled : 0.0;
  finish(effect, std::sqrt(va + vb), degrees);
  return effect;
}

std::vector<bool> stand_out(std::span<const double> p, double rate) {
  std::vector<std::size_t> order(p.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return p[a] < p[b]; });
  std::size_t named = 0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    if (p[order[i]] <= rate * static_cast<double>(i + 1) / static_cast<double>(p.size())) named = i + 1;
  }
  std::vector<bool> result(p.size(), false);
  for (std::size_t i = 0; i < named; ++i) result[order[i]] = true;
  return result;
}

ForecastCheck forecast_check(std::span<const ForecastSheet> sheets) {
  ForecastCheck check;
  for (const ForecastSheet& s : sheets) {
    if (s.good + s.bad == 0) continue;
    ++check.sheets;
    check.good += s.good;
    check.judged += s.good + s.bad;
  }
  if (check.judged == 0) return check;
  // Wilson 1927.
  const double n = check.judged, p = check.good / n, z = 1.959964;
  const double middle = (p + z * z / (2 * n)) / (1 + z * z / n);
  const double half = z / (1 + z * z / n) * std::sqrt(p * (1 - p) / n + z * z / (4 * n * n));
  check.percent = 100 * p;
  check.low = 100 * std::max(0.0, middle - half);
  check.high = 100 * std::min(1.0, middle + half);
  return check;
}

}  // namespace sheetloupe
