// Missing and broken tows, told with their place; none on sound cloth.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include "sheetloupe/scene.h"
#include "sheetloupe/weave.h"
#include "support/flat_scene.h"

namespace sheetloupe {
namespace {

constexpr double kWarpPitch = 2.1, kWeftPitch = 2.2;

// A drag of 4 degrees on it, so that the counts bend.
SceneSheet cloth(WeavePattern pattern) {
  SceneSheet sheet;
  sheet.width_mm = 110;
  sheet.height_mm = 90;
  sheet.pattern = pattern;
  sheet.warp_deg = 0;
  sheet.weft_deg = 90;
  sheet.warp_pitch_mm = kWarpPitch;
  sheet.weft_pitch_mm = kWeftPitch;
  sheet.seed = 6;
  sheet.drags = {{{40, 20}, 15, {1.5, 1.5}}};
  return sheet;
}

WeaveAnalysis reading(const SceneSheet& sheet) {
  SceneLight light;
  light.second_model = sheet.pattern == WeavePattern::plain;
  return analyse_weave(flat_scene(sheet, light, 0.12));
}

class TowFaults : public testing::TestWithParam<WeavePattern> {};

TEST_P(TowFaults, SoundClothHasNone) {
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    SceneSheet sheet = cloth(GetParam());
    sheet.seed = seed;
    sheet.warp_deg = static_cast<double>(seed);
    sheet.weft_deg = sheet.warp_deg + 91;
    EXPECT_TRUE(reading(sheet).tow_faults.empty()) << seed;
  }
}

// Warp counts grow downward from 0 at the top: tow 30 lies between 63.0 and 65.1 mm.
TEST_P(TowFaults, AMissingWarpTowWithAnOpenGapIsFoundWhereItWas) {
  SceneSheet sheet = cloth(GetParam());
  sheet.tow_faults = {{true, 30, true}};
  const WeaveAnalysis weave = reading(sheet);
  ASSERT_TRUE(weave.found);
  ASSERT_EQ(weave.tow_faults.size(), 1U);
  const TowFault& fault = weave.tow_faults[0];
  EXPECT_TRUE(fault.warp && fault.whole && !fault.closed_up);
  EXPECT_NEAR(fault.from.y, 30.5 * kWarpPitch, kWarpPitch);
  EXPECT_NEAR(fault.to.y, 30.5 * kWarpPitch, kWarpPitch);
  EXPECT_NEAR(std::abs(fault.to.x - fault.from.x), 108, 6);
}

// Weft counts fall along x: tow -36 lies between 77.0 and 79.2 mm.
TEST_P(TowFaults, AMissingPickThatHasClosedUpIsFoundByTheJumpOfTheRepeat) {
  SceneSheet sheet = cloth(GetParam());
  sheet.tow_faults = {{false, -36, true}};
  sheet.tow_faults[0].closed_up = true;
  const WeaveAnalysis weave = reading(sheet);
  ASSERT_TRUE(weave.found);
  EXPECT_EQ(weave.pattern, GetParam());
  ASSERT_EQ(weave.tow_faults.size(), 1U);
  const TowFault& fault = weave.tow_faults[0];
  EXPECT_TRUE(!fault.warp && fault.whole && fault.closed_up);
  EXPECT_NEAR(fault.from.x, 36 * kWeftPitch, 1.5 * kWeftPitch);
  EXPECT_NEAR(fault.to.x, 36 * kWeftPitch, 1.5 * kWeftPitch);
}

INSTANTIATE_TEST_SUITE_P(Weaves, TowFaults,
                         testing::Values(WeavePattern::plain, WeavePattern::twill_2x2, WeavePattern::satin_5));

TEST(TowFault, ABrokenTowIsFoundOverItsStretch) {
  SceneSheet sheet = cloth(WeavePattern::twill_2x2);
  sheet.tow_faults = {{true, 30, true, 0, -50, -21}};  // from the right side to x = 21 * 2.2 = 46 mm
  const WeaveAnalysis weave = reading(sheet);
  ASSERT_EQ(weave.tow_faults.size(), 1U);
  const TowFault& fault = weave.tow_faults[0];
  EXPECT_TRUE(fault.warp && !fault.whole && !fault.closed_up);
  const auto [low, high] = std::minmax(fault.from.x, fault.to.x);
  EXPECT_NEAR(low, 46, 7 * kWeftPitch);
  EXPECT_GT(high, 104);
  EXPECT_NEAR(fault.from.y, 30.5 * kWarpPitch, kWarpPitch);
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;
  const bool told = std::any_of(weave.remarks.begin(), weave.remarks.end(), [&](const std::string& r) {
    return std::sscanf(r.c_str(), "a warp tow is broken or missing from %lf, %lf to %lf, %lf mm", &x0, &y0, &x1, &y1) ==
           4;
  });
  EXPECT_TRUE(told);
  EXPECT_NEAR(std::min(x0, x1), low, 0.6);
}

// A dry spot takes the pattern from many tows next to each other: no tow is missing there.
TEST(TowFault, ADrySpotIsNoMissingTow) {
  SceneSheet sheet = cloth(WeavePattern::twill_2x2);
  sheet.front = {{DefectLabel::dry_spot, {60, 60}, 12.0}};
  EXPECT_TRUE(reading(sheet).tow_faults.empty());
}

}  // namespace
}  // namespace sheetloupe
