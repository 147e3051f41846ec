#include "sheetloupe/fabric.h"

#include <gtest/gtest.h>

namespace sheetloupe {
namespace {

Fabric cloth(double tex, double areal) { return {"cloth", WeavePattern::twill_2x2, tex, areal, 1.76}; }

WeaveAnalysis seen(WeavePattern pattern, double pitch) {
  WeaveAnalysis weave;
  weave.found = true;
  weave.pattern = pattern;
  weave.warp_pitch = weave.weft_pitch = Mm(pitch);
  return weave;
}

// US Army TM 1-1500-204-23-11: repair cloth with eleven 6K yarns an inch each way, 25.4 / 11 = 2.309 mm; 6K weighs
// 396 g/km (PAN fibre data sheet CFA-001), so the cloth weighs 343 g/m2.
TEST(Fabric, ElevenYarnsAnInchWeigh343Grams) { EXPECT_NEAR(tow_pitch(cloth(396, 343)).value(), 25.4 / 11, 0.001); }

// Lecture "Fibre Volume Fraction and Laminate Thickness": Vf = n A / (rho d). Ten plies of 200 g/m2 at 1.76 g/cm3 in
// 2.50 mm have Vf 0.4545.
TEST(Fabric, TenPliesFillTheTextbooksThickness) {
  EXPECT_NEAR(10 * ply_thickness(cloth(198, 200), 0.4545).value(), 2.50, 0.001);
}

TEST(Fabric, NothingIsSaidWithoutAWeaveOrWhenItFits) {
  EXPECT_FALSE(check_fabric(cloth(198, 200), {}));
  EXPECT_FALSE(check_fabric(cloth(198, 200), seen(WeavePattern::twill_2x2, 2.02)));
  EXPECT_FALSE(check_fabric(cloth(198, 200), seen(WeavePattern::unknown, 2.02)));
}

TEST(Fabric, AnotherSpacingIsTold) {
  const auto said = check_fabric(cloth(198, 200), seen(WeavePattern::twill_2x2, 2.3));
  ASSERT_TRUE(said);
  EXPECT_EQ(
      said->rfind("The photo reads twill 2x2 with 2.30 mm tows; the cloth named, cloth, is twill 2x2 with 1.98", 0), 0U)
      << *said;
}

TEST(Fabric, AnotherWeaveIsTold) {
  const auto said = check_fabric(cloth(198, 200), seen(WeavePattern::plain, 1.98));
  ASSERT_TRUE(said);
  EXPECT_NE(said->find("reads plain weave"), std::string::npos);
}

}  // namespace
}  // namespace sheetloupe
