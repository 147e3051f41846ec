// What many sheets say together: charts with limits, causes by weight, effects with intervals, places where defects
// gather, forecasts against outcomes. Numbers in, numbers out.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

/// Below this many sheets nothing but the points is shown: no limits, no effects.
inline constexpr int kLeastSheets = 8;

/// The four rules of the Western Electric handbook (1956).
enum class RunRule { beyond_3_sigma, two_of_three_beyond_2, four_of_five_beyond_1, eight_on_one_side };

struct Signal {
  std::size_t index = 0;
  RunRule rule = RunRule::beyond_3_sigma;
  int side = 1;  // +1 above the mean, -1 below
};

/// The rules as a stream, one standardised value z = (x - mean) / sigma at a time.
class RunRules {
 public:
  /// The first rule that fires at this value, if any; `all`: every rule, else only the 3 sigma one.
  std::optional<Signal> step(double z, bool all = true);

 private:
  std::size_t count_ = 0;
  std::array<int, 5> zones_{};  // signed zone 0 to 3 of the newest five, newest first
  int run_ = 0;                 // signed length of the run on one side
};

struct IndividualsChart {
  double mean = 0.0, sigma = 0.0;  // sigma from the mean moving range: MR / d2(2)
  double lower = 0.0, upper = 0.0;
  std::vector<double> moving_range;  // one fewer than the values
  double mean_range = 0.0, range_upper = 0.0;
  std::vector<Signal> signals;  // over all values, by index
};

/// Limits from the first `baseline` values (0: all); then every value is held against them. None with fewer than two
/// values in the baseline or when these are all alike.
std::optional<IndividualsChart> individuals_chart(std::span<const double> x, std::size_t baseline = 0);

struct EwmaChart {
  std::vector<double> value;
  double lower = 0.0, upper = 0.0;  // asymptotic
  std::optional<std::size_t> first_signal;
};
/// `lambda` in (0, 1]; limits at `target` +- `k` sigma sqrt(lambda / (2 - lambda)).
EwmaChart ewma_chart(std::span<const double> x, double target, double sigma, double lambda = 0.3, double k = 3.0);

struct CusumChart {
  std::vector<double> high, low;  // both >= 0
  std::optional<std::size_t> first_signal;
};
/// Tabular sums with allowance `k` and decision interval `h`, in the unit of x.
CusumChart cusum_chart(std::span<const double> x, double target, double k, double h);

struct ParetoBar {
  std::string cause;
  double amount = 0.0;
  double running_percent = 0.0;
};
/// Largest first; equal ones by name; causes without any are left out.
std::vector<ParetoBar> pareto(std::vector<std::pair<std::string, double>> amounts);

/// An effect with its 95 % interval.
struct Effect {
  bool enough = false;
  std::string reason;  // why not
  double value = 0.0, low = 0.0, high = 0.0;
  double p = 1.0;         // two-sided, of no effect
  double standard = 0.0;  // two groups: Hedges' g; slope: the correlation
  int sheets = 0;
};

/// Change of y for one unit of x, least squares with Student's t. Not enough: fewer than kLeastSheets, x with fewer
/// than two different values.
Effect slope_effect(std::span<const double> x, std::span<const double> y);

/// Mean of `with` less mean of `without` (Welch). Not enough: fewer than kLeastSheets together or three in either.
Effect group_effect(std::span<const double> with, std::span<const double> without);

/// Which of many p values stand out when they are looked at together (Benjamini and Hochberg 1995, `rate` of false
/// ones among those named).
std::vector<bool> stand_out(std::span<const double> p, double rate = 0.1);

struct DensityCell {
  int count = 0;
  int sheets = 0;         // that cover the cell's middle
  double expected = 0.0;  // were all defects spread evenly over what the sheets cover
  bool crowded = false;   // more than chance gives, all cells looked at together at 5 %
};
struct DensityMap {
  double cell_mm = 0.0;
  int columns = 0, rows = 0;
  std::vector<DensityCell> cells;  // row by row from the datum corner
  int defects = 0, sheets = 0;
  int left_out = 0;  // sheets without a datum
};
struct DensitySheet {
  bool datum = false;
  double width_mm = 0.0, height_mm = 0.0;
  std::vector<SheetPoint> defects;  // front frame
};
/// `cell_mm` is the least side; it grows until there are at most 12 columns.
DensityMap density_map(std::span<const DensitySheet> sheets, double cell_mm = 25.0);

/// Blanks that were planned as good against what became of them.
struct ForecastSheet {
  int planned = 0, good = 0, bad = 0;  // good + bad: those with an outcome
};
struct ForecastCheck {
  int sheets = 0, judged = 0, good = 0;
  double percent = 0.0, low = 0.0, high = 0.0;  // good of the judged, Wilson's 95 % interval
};
ForecastCheck forecast_check(std::span<const ForecastSheet> sheets);

}  // namespace sheetloupe
