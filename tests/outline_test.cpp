#include "sheetloupe/outline.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "support/table_photo.h"

namespace sheetloupe {
namespace {

constexpr Mm kThin(0.5);

Outline outline_of(const cv::Mat& bgr) { return find_outline(bgr, {}, nullptr, kThin); }

// The largest corner error, in photo px.
double worst_corner_px(const Outline& found, const DrawnPhoto& truth) {
  double worst = 0.0;
  for (int i = 0; i < 4; ++i) worst = std::max(worst, distance_px(found.corners_px[i], truth.corners_px[i]));
  return worst;
}

TEST(Outline, NoPictureGivesNoOutlineAndAReason) {
  const Outline found = outline_of(cv::Mat());
  EXPECT_FALSE(found.found);
  EXPECT_FALSE(found.reason.empty());
}

TEST(Outline, OnePixelGivesNoOutlineAndAReason) {
  const Outline found = outline_of(cv::Mat(1, 1, CV_8UC3, cv::Scalar(9, 9, 9)));
  EXPECT_FALSE(found.found);
  EXPECT_NE(found.reason.find("too small"), std::string::npos);
}

TEST(Outline, ABareTableHasNoSheet) {
  for (const double grain : {0.0, 0.08}) {
    TablePhoto wanted;
    wanted.sheet = false;
    wanted.grain = grain;
    EXPECT_FALSE(outline_of(draw_table_photo(wanted).bgr).found) << grain;
  }
}

TEST(Outline, AOneColouredPictureHasNoSheet) {
  EXPECT_FALSE(outline_of(cv::Mat(900, 1200, CV_8UC3, cv::Scalar(128, 128, 128))).found);
}

struct Table {
  const char* name;
  cv::Vec3d bgr;
  double grain;
};

class OutlineOnTable : public testing::TestWithParam<Table> {};

// The scale is 6 px a millimetre.

TEST_P(OutlineOnTable, CornersAreFoundToAThirdOfAMillimetre) {
  for (const double turn : {-20.0, 6.0}) {
    TablePhoto wanted;
    wanted.table_bgr = GetParam().bgr;
    wanted.grain = GetParam().grain;
    wanted.turn_deg = turn;
    const DrawnPhoto photo = draw_table_photo(wanted);
    const Outline found = outline_of(photo.bgr);
    ASSERT_TRUE(found.found) << turn << ": " << found.reason;
    EXPECT_LT(worst_corner_px(found, photo), 2.0) << turn;
    EXPECT_FALSE(found.rough) << turn;
  }
}

INSTANTIATE_TEST_SUITE_P(Tables, OutlineOnTable,
                         testing::Values(Table{"white", {225, 228, 230}, 0.01}, Table{"grey", {128, 130, 132}, 0.04},
                                         Table{"black", {24, 23, 22}, 0.04}, Table{"wood", {110, 160, 200}, 0.10}),
                         [](const auto& each) { return std::string(each.param.name); });

TEST(Outline, AShadowBesideTheSheetIsNotTakenForSheet) {
  TablePhoto wanted;
  wanted.shadow = 0.55;
  const DrawnPhoto photo = draw_table_photo(wanted);
  const Outline found = outline_of(photo.bgr);
  ASSERT_TRUE(found.found) << found.reason;
  EXPECT_LT(worst_corner_px(found, photo), 1.5);
}

// The outline is the hard part's, resin included. The waves have an amplitude of 0.4 mm and no mean: the line through
// them is good to a tenth of that over several waves; 1.2 mm is the promise.
TEST(Outline, ARaggedResinBorderBelongsToTheSheet) {
  for (const double shadow : {0.0, 0.5}) {
    TablePhoto wanted;
    wanted.flash_mm = 3.0;
    wanted.ragged_cloth_mm = 0.8;
    wanted.ragged_mm = 0.4;
    wanted.shadow = shadow;
    const DrawnPhoto photo = draw_table_photo(wanted);
    const Outline found = outline_of(photo.bgr);
    ASSERT_TRUE(found.found) << found.reason;
    EXPECT_TRUE(found.rough);
    EXPECT_LT(worst_corner_px(found, photo) / wanted.px_per_mm, 0.6) << shadow;
  }
}

TEST(Outline, TheDatumCornerFollowsThePhotosRule) {
  // Turned by 70 degrees, the side that turns least from the photo's +x is the drawn left side, walked upward.
  TablePhoto wanted;
  wanted.turn_deg = 70.0;
  const DrawnPhoto photo = draw_table_photo(wanted);
  const Outline found = outline_of(photo.bgr);
  ASSERT_TRUE(found.found) << found.reason;
  for (int i = 0; i < 4; ++i) EXPECT_LT(distance_px(found.corners_px[i], photo.corners_px[(i + 3) % 4]), 1.5) << i;
}

}  // namespace
}  // namespace sheetloupe
