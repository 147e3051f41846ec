#include "sheetloupe/gauge_study.h"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>
#include <vector>

namespace sheetloupe {
namespace {

// The worked example of AIAG, Measurement Systems Analysis, 4th ed.: 10 parts, 3 appraisers, 3 trials.
std::vector<GaugeReading> published() {
  std::ifstream file(TEST_DATA "/aiag_grr_example.csv");
  std::vector<GaugeReading> readings;
  std::string line;
  std::getline(file, line);
  while (std::getline(file, line)) {
    std::istringstream in(line);
    std::string appraiser, trial, part, value;
    std::getline(in, appraiser, ',');
    std::getline(in, trial, ',');
    std::getline(in, part, ',');
    std::getline(in, value, ',');
    readings.push_back({part, appraiser, std::stod(value)});
  }
  return readings;
}

TEST(GaugeStudy, NothingOneSheetOrNoRepeatIsNotEnough) {
  EXPECT_FALSE(gauge_by_anova({}).enough);
  EXPECT_FALSE(gauge_by_anova(std::vector<GaugeReading>{{"a", "", 1}, {"a", "", 2}}).enough);
  const GaugeStudy once = gauge_by_anova(std::vector<GaugeReading>{{"a", "", 1}, {"b", "", 2}});
  EXPECT_FALSE(once.enough);
  EXPECT_EQ(once.reason, "no sheet was photographed twice");
}

TEST(GaugeStudy, UnequalRepeatsByTwoPeopleAreRefused) {
  std::vector<GaugeReading> readings = published();
  ASSERT_EQ(readings.size(), 90U);
  readings.pop_back();
  EXPECT_FALSE(gauge_by_anova(readings).enough);
  EXPECT_FALSE(gauge_by_ranges(readings).enough);
}

// ANOVA: variances 0.09143, 0.03997, 0.05146, 1.08645; 27.86 %; 4 categories (4.86 before cutting).
TEST(GaugeStudy, VarianceAnalysisMeetsThePublishedExample) {
  const GaugeStudy s = gauge_by_anova(published());
  ASSERT_TRUE(s.enough);
  EXPECT_NEAR(s.repeatability * s.repeatability, 0.03997, 1e-5);
  EXPECT_NEAR(s.reproducibility * s.reproducibility, 0.05146, 1e-5);
  EXPECT_NEAR(s.gauge * s.gauge, 0.09143, 1e-5);
  EXPECT_NEAR(s.part * s.part, 1.08645, 1e-5);
  EXPECT_NEAR(s.percent, 27.86, 5e-3);
  EXPECT_NEAR(s.categories_raw, 4.86, 5e-3);
  EXPECT_EQ(s.categories, 4);
  EXPECT_NEAR(*s.interaction_f, 0.4337, 1e-4);
  EXPECT_NEAR(*s.interaction_p, 0.974, 1e-3);
}

// Ranges: EV 0.2019, AV 0.2297, GRR 0.3058, PV 1.1046, TV 1.1461; 26.68 %; 5 categories (5.09).
TEST(GaugeStudy, RangeMethodMeetsThePublishedExample) {
  const GaugeStudy s = gauge_by_ranges(published());
  ASSERT_TRUE(s.enough);
  EXPECT_NEAR(s.repeatability, 0.2019, 1e-4);
  EXPECT_NEAR(s.reproducibility, 0.2297, 1e-4);
  EXPECT_NEAR(s.gauge, 0.3058, 1e-4);
  EXPECT_NEAR(s.part, 1.1046, 1e-4);
  EXPECT_NEAR(s.total, 1.1461, 1e-4);
  EXPECT_NEAR(s.percent, 26.68, 1e-2);
  EXPECT_EQ(s.categories, 5);
}

// By hand: 1, 2 | 4, 6 | 9. Within 0.5 + 2 over 2 degrees: 1.25. Means 1.5, 5, 9 about 4.4.
TEST(GaugeStudy, OnePersonWithUnequalRepeats) {
  const std::vector<GaugeReading> readings = {{"a", "", 1}, {"a", "", 2}, {"b", "", 4}, {"b", "", 6}, {"c", "", 9}};
  const GaugeStudy s = gauge_by_anova(readings);
  ASSERT_TRUE(s.enough);
  EXPECT_NEAR(s.repeatability, std::sqrt(1.25), 1e-12);
  // MSp = (2 x 2.9^2 + 2 x 0.6^2 + 4.6^2) / 2 = 19.35; n0 = (5 - 9 / 5) / 2 = 1.6; (19.35 - 1.25) / 1.6.
  EXPECT_NEAR(s.part, std::sqrt(18.1 / 1.6), 1e-12);
  EXPECT_EQ(s.reproducibility, 0.0);
}

TEST(GaugeStudy, PartsThatDoNotDifferLeaveAllToTheGauge) {
  const std::vector<GaugeReading> readings = {{"a", "", 1}, {"a", "", 3}, {"b", "", 1}, {"b", "", 3}};
  const GaugeStudy s = gauge_by_anova(readings);
  EXPECT_NEAR(s.percent, 100.0, 1e-9);
  EXPECT_EQ(s.categories, 1);
}

}  // namespace
}  // namespace sheetloupe
