#include "trend/distributions.h"

#include <cmath>

namespace sheetloupe::trend {
namespace {

// Continued fraction of I_x(a, b), DLMF 8.17.22, by Lentz's method; converges fast for x < (a + 1) / (a + b + 2).
double beta_fraction(double a, double b, double x) {
  constexpr double kTiny = 1e-300;
  const auto safe = [](double v) { return std::abs(v) < kTiny ? kTiny : v; };
  double c = 1.0, d = 1.0 / safe(1.0 - (a + b) * x / (a + 1.0)), f = d;
  for (int m = 1; m < 500; ++m) {
    const double even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1.0 / safe(1.0 + even * d);
    c = safe(1.0 + even / c);
    f *= d * c;
    const double odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1.0 / safe(1.0 + odd * d);
    c = safe(1.0 + odd / c);
    f *= d * c;
    if (std::abs(d * c - 1.0) < 1e-15) break;
  }
  return f;
}

}  // namespace

double incomplete_beta(double a, double b, double x) {
  if (x <= 0) return 0.0;
  if (x >= 1) return 1.0;
  const double front =
      std::exp(std::lgamma(a + b) - std::lgamma(a) - std::lgamma(b) + a * std::log(x) + b * std::log1p(-x));
  if (x < (a + 1) / (a + b + 2)) return front * beta_fraction(a, b, x) / a;
  return 1.0 - front * beta_fraction(b, a, 1.0 - x) / b;
}

// P(|T| > t) = I_{v / (v + t2)}(v / 2, 1 / 2): Abramowitz and Stegun 26.7.1 with 26.5.27.
double student_p(double t, double degrees) { return incomplete_beta(degrees / 2, 0.5, degrees / (degrees + t * t)); }

double student_95(double degrees) {
  double low = 1.9, high = 13.0;  // 1.96 with endless degrees, 12.71 with one
  while (student_p(high, degrees) > 0.05) high *= 2;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (student_p(middle, degrees) > 0.05 ? low : high) = middle;
  }
  return (low + high) / 2;
}

// Abramowitz and Stegun 26.6.2.
double f_tail(double f, double d1, double d2) {
  return f <= 0 ? 1.0 : incomplete_beta(d2 / 2, d1 / 2, d2 / (d2 + d1 * f));
}

double poisson_tail(int count, double mean) {
  if (count <= 0) return 1.0;
  if (mean <= 0) return 0.0;
  double term = std::exp(count * std::log(mean) - mean - std::lgamma(count + 1.0)), sum = 0.0;
  for (int k = count + 1; term > 0 && (k < mean || term > 1e-18 * sum) && k < count + 100000; ++k) {
    sum += term;
    term *= mean / k;
  }
  return sum < 1 ? sum : 1.0;
}

}  // namespace sheetloupe::trend
