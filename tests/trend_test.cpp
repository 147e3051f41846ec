#include "sheetloupe/trend.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "trend/distributions.h"

namespace sheetloupe {
namespace {

// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: ten flow rates.
const std::vector<double> kFlow = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};

TEST(Individuals, NothingOrOneValueOrAllAlikeGiveNoLimits) {
  EXPECT_FALSE(individuals_chart({}));
  EXPECT_FALSE(individuals_chart(std::vector<double>{5.0}));
  EXPECT_FALSE(individuals_chart(std::vector<double>{5.0, 5.0, 5.0}));
}

TEST(Individuals, MeetTheHandbookExample) {
  const auto chart = individuals_chart(kFlow);
  ASSERT_TRUE(chart);
  EXPECT_NEAR(chart->mean, 50.81, 1e-9);
  EXPECT_NEAR(chart->mean_range, 1.8778, 1e-4);
  EXPECT_NEAR(chart->upper, 55.8041, 1e-4);
  EXPECT_NEAR(chart->lower, 45.8159, 1e-4);
  EXPECT_NEAR(chart->sigma, 1.6647, 1e-4);
  EXPECT_NEAR(chart->range_upper, 6.135, 1e-3);  // 3.267 x 1.8778
  EXPECT_TRUE(chart->signals.empty());
}

TEST(Individuals, NewSheetIsHeldAgainstTheEarlierOnes) {
  std::vector<double> x = kFlow;
  x.push_back(60.0);
  const auto chart = individuals_chart(x, kFlow.size());
  EXPECT_NEAR(chart->upper, 55.8041, 1e-4);
  ASSERT_EQ(chart->signals.size(), 1U);
  EXPECT_EQ(chart->signals[0].index, 10U);
  EXPECT_EQ(chart->signals[0].rule, RunRule::beyond_3_sigma);
}

std::optional<RunRule> last_rule(const std::vector<double>& z) {
  RunRules rules;
  std::optional<Signal> signal;
  for (const double value : z) signal = rules.step(value);
  if (!signal) return {};
  return signal->rule;
}

TEST(RunRules, EachFiresAtItsOwnPatternAndNotBefore) {
  EXPECT_EQ(last_rule({3.1}), RunRule::beyond_3_sigma);
  EXPECT_EQ(last_rule({2.1, 0.1, 2.1}), RunRule::two_of_three_beyond_2);
  EXPECT_FALSE(last_rule({2.1, 0.1, -2.1}));  // not on one side
  EXPECT_FALSE(last_rule({2.1, 0.1, -0.1, 2.1}));
  EXPECT_EQ(last_rule({1.1, -0.1, 1.1, 1.1, 1.1}), RunRule::four_of_five_beyond_1);
  EXPECT_EQ(last_rule({-.1, -.1, -.1, -.1, -.1, -.1, -.1, -.1}), RunRule::eight_on_one_side);
  EXPECT_FALSE(last_rule({-.1, -.1, -.1, -.1, -.1, -.1, -.1}));
}

// Standard normal values from raw engine bits (Box and Muller 1958).
class Normal {
 public:
  explicit Normal(std::uint64_t seed) : engine_(seed) {}
  double operator()() {
    if (spare_) {
      const double z = *spare_;
      spare_.reset();
      return z;
    }
    const double r = std::sqrt(-2 * std::log(unit())), a = 2 * std::numbers::pi * unit();
    spare_ = r * std::sin(a);
    return r * std::cos(a);
  }

 private:
  double unit() { return (static_cast<double>(engine_() >> 11U) + 0.5) * 0x1p-53; }
  std::mt19937_64 engine_;
  std::optional<double> spare_;
};

double mean_run_length(bool all, int runs) {
  Normal normal(19560301);
  double total = 0;
  for (int i = 0; i < runs; ++i) {
    RunRules rules;
    do ++total;
    while (!rules.step(normal(), all));
  }
  return total / runs;
}

// Champ and Woodall 1987, quoted by the e-Handbook: 371 and 91.75; exactly, by Markov chain, 370.398 and 91.7508. The
// mean of 40 000 runs scatters by 0.5 %.
TEST(RunRules, AverageRunLengthInControlIsThePublishedOne) {
  EXPECT_NEAR(mean_run_length(false, 40000), 370.398, 0.02 * 370.398);
  EXPECT_NEAR(mean_run_length(true, 40000), 91.7508, 0.02 * 91.7508);
}

// e-Handbook 6.3.2.4: lambda 0.3, target 50, s 2.0539.
TEST(Ewma, MeetsTheHandbookExample) {
  const std::vector<double> x = {52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
  const EwmaChart chart = ewma_chart(x, 50, 2.0539);
  EXPECT_NEAR(chart.upper, 52.5884, 1e-4);
  EXPECT_NEAR(chart.lower, 47.4116, 1e-4);  // printed cut to 47.4115
  EXPECT_NEAR(chart.value.front(), 50.60, 1e-9);
  EXPECT_NEAR(chart.value.back(), 51.988243, 1e-6);
  EXPECT_FALSE(chart.first_signal);
}

// e-Handbook 6.3.2.3: target 325, k 0.3175, h 4.1959.
TEST(Cusum, MeetsTheHandbookExample) {
  const std::vector<double> x = {324.925, 324.675, 324.725, 324.35,  325.35,  325.225, 324.125,
                                 324.525, 325.225, 324.6,   324.625, 325.15,  328.325, 327.25,
                                 327.825, 328.5,   326.675, 327.775, 326.875, 328.35};
  const CusumChart chart = cusum_chart(x, 325, 0.3175, 4.1959);
  EXPECT_NEAR(chart.low[7], 0.715, 1e-9);
  EXPECT_NEAR(chart.high[12], 3.0075, 1e-9);
  EXPECT_NEAR(chart.high[13], 4.94, 1e-9);
  EXPECT_NEAR(chart.high[19], 19.035, 1e-9);
  ASSERT_TRUE(chart.first_signal);
  EXPECT_EQ(*chart.first_signal + 1, 14U);
}

TEST(Pareto, LargestFirstWithTheRunningShare) {
  EXPECT_TRUE(pareto({}).empty());
  EXPECT_TRUE(pareto({{"dust", 0.0}}).empty());
  const auto bars = pareto({{"pinhole", 12}, {"weave", 61}, {"dry spot", 27}, {"none", 0}});
  ASSERT_EQ(bars.size(), 3U);
  EXPECT_EQ(bars[0].cause, "weave");
  EXPECT_NEAR(bars[0].running_percent, 61, 1e-9);
  EXPECT_NEAR(bars[2].running_percent, 100, 1e-9);
}

// Tables of Student's t, two-sided 5 %: 1: 12.706, 4: 2.776, 10: 2.228, 30: 2.042 (any textbook).
TEST(Distributions, MeetTheTables) {
  EXPECT_NEAR(trend::student_95(1), 12.706, 5e-4);
  EXPECT_NEAR(trend::student_95(4), 2.776, 5e-4);
  EXPECT_NEAR(trend::student_95(10), 2.228, 5e-4);
  EXPECT_NEAR(trend::student_95(30), 2.042, 5e-4);
  // F, upper 5 %: (3, 10) 3.708; (18, 60) 1.778 (tables).
  EXPECT_NEAR(trend::f_tail(3.708, 3, 10), 0.05, 1e-4);
  EXPECT_NEAR(trend::f_tail(1.778, 18, 60), 0.05, 3e-4);
  // Poisson, mean 2: P(X >= 3) = 1 - 5 exp(-2); by hand.
  EXPECT_NEAR(trend::poisson_tail(3, 2.0), 1 - 5 * std::exp(-2.0), 1e-12);
  EXPECT_NEAR(trend::poisson_tail(1, 30.0), 1 - std::exp(-30.0), 1e-12);
}

TEST(Effect, FewSheetsOrNoChangeInTheRecipeAreSaid) {
  const std::vector<double> seven(7, 1.0), ten(10, 3.0);
  EXPECT_EQ(slope_effect(seven, seven).reason, "not enough sheets yet: 7 of 8");
  EXPECT_EQ(slope_effect(ten, ten).reason, "it was the same on every sheet");
  EXPECT_FALSE(group_effect(std::vector<double>{1, 2}, ten).enough);
}

// Anscombe 1973, first set: slope 0.500, standard error 0.118, r 0.816, p 0.00217.
TEST(Effect, SlopeMeetsAnscombesFirstSet) {
  const std::vector<double> x = {10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5};
  const std::vector<double> y = {8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68};
  const Effect e = slope_effect(x, y);
  EXPECT_NEAR(e.value, 0.5001, 1e-4);
  EXPECT_NEAR((e.high - e.low) / 2, 2.262 * 0.1179, 1e-3);
  EXPECT_NEAR(e.standard, 0.8164, 1e-4);
  EXPECT_NEAR(e.p, 0.00217, 1e-5);
}

// Student's sleep data (1908), as two groups: Welch t -1.8608, 17.776 degrees, p 0.07939, interval -3.3655 to 0.2055
// (as printed in the manual of R's t.test).
TEST(Effect, TwoGroupsMeetStudentsSleepData) {
  const std::vector<double> a = {0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0};
  const std::vector<double> b = {1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4};
  const Effect e = group_effect(a, b);
  EXPECT_NEAR(e.value, -1.58, 1e-9);
  EXPECT_NEAR(e.low, -3.365483, 1e-5);
  EXPECT_NEAR(e.high, 0.205483, 1e-5);
  EXPECT_NEAR(e.p, 0.07939, 1e-5);
}

// Benjamini and Hochberg 1995, their own example of 15 p values at a rate of 0.05: four are named.
TEST(StandOut, MeetsTheAuthorsExample) {
  const std::vector<double> p = {0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
                                 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0000};
  const auto named = stand_out(p, 0.05);
  EXPECT_EQ(std::count(named.begin(), named.end(), true), 4);
  EXPECT_TRUE(stand_out({}).empty());
}

TEST(Density, SheetsWithoutADatumAreLeftOutAndCounted) {
  const std::vector<DensitySheet> sheets = {{false, 240, 180, {{10, 10}}}, {true, 240, 180, {{30, 30}}}};
  const DensityMap map = density_map(sheets);
  EXPECT_EQ(map.left_out, 1);
  EXPECT_EQ(map.defects, 1);
  EXPECT_EQ(map.cells[static_cast<std::size_t>(map.columns) + 1].count, 1);
  EXPECT_TRUE(density_map({}).cells.empty());
}

TEST(Density, EvenDefectsAreNoCrowdAndACornerFullIsOne) {
  std::mt19937_64 engine(7);
  const auto unit = [&] { return static_cast<double>(engine() >> 11U) * 0x1p-53; };
  std::vector<DensitySheet> even(30, {true, 240, 180, {}});
  for (DensitySheet& s : even)
    for (int i = 0; i < 6; ++i) s.defects.push_back({240 * unit(), 180 * unit()});
  const DensityMap flat = density_map(even);
  EXPECT_EQ(std::count_if(flat.cells.begin(), flat.cells.end(), [](const auto& c) { return c.crowded; }), 0);
  for (DensitySheet& s : even) s.defects.push_back({10, 10});
  const DensityMap heap = density_map(even);
  EXPECT_TRUE(heap.cells[0].crowded);
  EXPECT_EQ(std::count_if(heap.cells.begin(), heap.cells.end(), [](const auto& c) { return c.crowded; }), 1);
}

TEST(Density, CellsThatFewSheetsCoverExpectFewer) {
  std::vector<DensitySheet> sheets(10, {true, 100, 100, {{20, 20}}});
  for (int i = 0; i < 5; ++i) sheets.push_back({true, 200, 100, {{20, 20}}});
  const DensityMap map = density_map(sheets, 50);
  EXPECT_EQ(map.columns, 4);
  EXPECT_EQ(map.cells[0].sheets, 15);
  EXPECT_EQ(map.cells[3].sheets, 5);
  EXPECT_NEAR(map.cells[0].expected / map.cells[3].expected, 3.0, 1e-9);
}

// Newcombe 1998, method 3: 81 of 263 gives 25.55 % to 36.62 %.
TEST(Forecast, GoodShareMeetsWilsonsInterval) {
  const ForecastCheck none = forecast_check(std::vector<ForecastSheet>{{45, 0, 0}});
  EXPECT_EQ(none.sheets, 0);
  const ForecastCheck check = forecast_check(std::vector<ForecastSheet>{{200, 50, 100}, {113, 31, 82}, {45, 0, 0}});
  EXPECT_EQ(check.sheets, 2);
  EXPECT_EQ(check.judged, 263);
  EXPECT_NEAR(check.low, 25.53, 0.03);
  EXPECT_NEAR(check.high, 36.62, 0.03);
}

}  // namespace
}  // namespace sheetloupe
