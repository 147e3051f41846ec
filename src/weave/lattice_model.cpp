#include <array>
#include <cmath>
#include <complex>
#include <numbers>

#include "weave/lattice.h"

namespace sheetloupe::weave {
namespace {

// Warp on top at crossing (i, j)? Plain: every other; 2/2 twill: two over, two under, shifted by one a pick; satin of
// 5: one in five, step 2 (or 3, its mirror image).
bool warp_on_top(Hypothesis weave, int i, int j) {
  const auto mod = [](int x, int n) { return ((x % n) + n) % n; };
  switch (weave) {
    case Hypothesis::plain:
      return mod(i + j, 2) == 0;
    case Hypothesis::twill_2x2:
      return mod(i + j, 4) < 2;
    case Hypothesis::satin_5:
      return mod(i - 2 * j, 5) == 0;
    case Hypothesis::satin_5_mirrored:
      return mod(i + 2 * j, 5) == 0;
  }
  return false;
}

int repeat(Hypothesis weave) {
  switch (weave) {
    case Hypothesis::plain:
      return 2;
    case Hypothesis::twill_2x2:
      return 4;
    default:
      return 5;
  }
}

double sinc(double x) {
  const double y = std::numbers::pi * x;
  return std::abs(y) < 1e-9 ? 1.0 : std::sin(y) / y;
}

}  // namespace

WeavePattern pattern_of(Hypothesis weave) {
  switch (weave) {
    case Hypothesis::plain:
      return WeavePattern::plain;
    case Hypothesis::twill_2x2:
      return WeavePattern::twill_2x2;
    default:
      return WeavePattern::satin_5;
  }
}

double smallest_spacing(Hypothesis weave) {
  switch (weave) {
    case Hypothesis::plain:
      return std::sqrt(0.5);
    case Hypothesis::twill_2x2:
      return std::sqrt(0.125);
    default:
      return std::sqrt(0.2);
  }
}

double model_magnitude(Hypothesis weave, Index index) {
  const int n = repeat(weave);
  std::complex<double> sum = 0;
  for (int i = 0; i < n; ++i) {
    for (int j = 0; j < n; ++j) {
      const double sign = warp_on_top(weave, i, j) ? 0.5 : -0.5;
      sum += std::polar(sign, -2 * std::numbers::pi * (index.a * i + index.b * j));
    }
  }
  double magnitude = std::abs(sum) / (n * n) * std::abs(sinc(index.a) * sinc(index.b));
  // Gaps between tows draw lines at whole tow frequencies on the axes, whatever the interlacing.
  const double na = std::round(index.a), nb = std::round(index.b);
  const bool on_axis = (na == 0) != (nb == 0) && std::abs(index.a - na) < 1e-6 && std::abs(index.b - nb) < 1e-6;
  if (on_axis) magnitude = std::max(magnitude, 0.12 / std::abs(na + nb));
  return magnitude;
}

std::vector<Index> weave_peaks(Hypothesis weave) {
  switch (weave) {
    case Hypothesis::plain:
      return {{.5, .5}, {.5, -.5}, {1.5, .5}, {1.5, -.5}, {.5, 1.5}, {.5, -1.5}};
    case Hypothesis::twill_2x2:
      return {{.25, .25}, {.75, -.25}, {.25, -.75}, {.75, .75}, {1.25, .25}, {.25, 1.25}};
    case Hypothesis::satin_5:
      return {{.2, -.4}, {.4, .2}, {.6, -.2}, {.2, .6}, {.4, -.8}, {.8, .4}};
    case Hypothesis::satin_5_mirrored:
      return {{.2, .4}, {.4, -.2}, {.6, .2}, {.2, -.6}, {.4, .8}, {.8, -.4}};
  }
  return {};
}

Index empty_place(Hypothesis weave, Index peak) {
  switch (weave) {
    case Hypothesis::plain:
      return {peak.a + .5, peak.b};
    case Hypothesis::twill_2x2:
      return {peak.a + .25, peak.b - .25};
    case Hypothesis::satin_5:
      return {peak.a + .1, peak.b + .3};
    case Hypothesis::satin_5_mirrored:
      return {peak.a + .1, peak.b - .3};
  }
  return peak;
}

}  // namespace sheetloupe::weave
