// The scale of a cut edge from a strip that lies flush with it.
#include <gtest/gtest.h>

#include <fstream>
#include <iterator>

#include "plies/flush_strip.h"
#include "sheetloupe/plies.h"
#include "sheetloupe/scale.h"
#include "support/edge_with_strip.h"

namespace sheetloupe {
namespace {

EdgeReading read(const EdgeWithStripPhoto& photo, std::optional<double> thickness_mm = {},
                 const LengthStandards& standards = {}) {
  EdgeOptions options;
  std::ifstream file(MODELS "/plies.txt");
  options.weights.assign(std::istreambuf_iterator<char>(file), {});
  options.thickness_mm = thickness_mm;
  options.markers = find_markers(photo.bgr, {.close_up = true}).markers;
  options.print = print_scale(standards);
  return read_edge(photo.bgr, options);
}

LengthStandards with_bar(double mm) {
  LengthStandards standards;
  standards.strip_bar_mm = Measured{mm, 0.1};
  return standards;
}

TEST(FlushStrip, WithoutMarkersThereIsNoScale) { EXPECT_FALSE(plies::find_flush_strip({}, {1.0, 0.01}, {4000, 3000})); }

TEST(FlushStrip, WithoutStripAndThicknessTheEdgeIsCountedAndNothingIsInMillimetres) {
  EdgeWithStrip far;
  far.gap_mm = 60;  // below what the photo shows
  const EdgeWithStripPhoto drawn = draw_edge_with_strip(far);
  const EdgeReading reading = read({drawn.bgr.rowRange(0, 600).clone(), drawn.thickness_mm});
  EXPECT_EQ(reading.plies_best, 8);
  EXPECT_EQ(reading.scale_source, EdgeScaleSource::none);
  EXPECT_FALSE(reading.mm_per_px);
  EXPECT_TRUE(reading.thickness_at_mm.empty());
}

TEST(FlushStrip, MarkersThatDoNotLieAsPrintedGiveNoScale) {
  EdgeWithStripPhoto photo = draw_edge_with_strip({});
  auto markers = find_markers(photo.bgr, {.close_up = true}).markers;
  ASSERT_GE(markers.size(), 2U);
  for (ImagePoint& p : markers[0].corners) p.y += 40;
  EXPECT_FALSE(plies::find_flush_strip(markers, {1.0, 0.01}, photo.bgr.size()));
}

TEST(FlushStrip, OneMarkerGivesTheThicknessWithinItsUncertainty) {
  EdgeWithStrip scene;
  scene.starts_mm = 100;
  const EdgeWithStripPhoto photo = draw_edge_with_strip(scene);
  EdgeWithStripPhoto part{photo.bgr.colRange(0, 1100).clone(), photo.thickness_mm};
  ASSERT_EQ(find_markers(part.bgr, {.close_up = true}).markers.size(), 1U);
  const EdgeReading reading = read(part, {}, with_bar(140.0));
  ASSERT_EQ(reading.scale_source, EdgeScaleSource::strip);
  EXPECT_NEAR(reading.strip_thickness_mm->value, photo.thickness_mm, reading.strip_thickness_mm->u95);
  EXPECT_LT(reading.strip_thickness_mm->u95, 0.03 * photo.thickness_mm);
}

TEST(FlushStrip, AStripSeenSquareGivesThicknessProfileAndPlies) {
  const EdgeWithStripPhoto photo = draw_edge_with_strip({});
  const EdgeReading reading = read(photo, {}, with_bar(140.0));
  ASSERT_EQ(reading.verdict, PlyVerdict::sure) << reading.reason;
  EXPECT_EQ(*reading.plies, 8);
  ASSERT_EQ(reading.scale_source, EdgeScaleSource::strip);
  EXPECT_NEAR(reading.thickness_mean_mm, photo.thickness_mm, 0.007 * photo.thickness_mm);
  EXPECT_GT(reading.thickness_u95_mm, reading.strip_thickness_mm->u95);
  EXPECT_NEAR(*reading.mm_per_px, 1 / 20.0, 0.007 / 20.0);
  EXPECT_NEAR(reading.thickness_at_mm.back()[0], 100 * 39 / 40.0, 1.0);
  double sum = 0;
  for (const double ply : reading.ply_thickness_mm) sum += ply;
  EXPECT_NEAR(sum, reading.thickness_mean_mm, 1e-9);
  EXPECT_TRUE(reading.scale_remark.empty());
}

// The cut's lines come back in the frame of the photo although the strip is left out of the search.
TEST(FlushStrip, LinesLieWhereThePhotoShowsThemAlsoBelowAStrip) {
  EdgeWithStripPhoto photo = draw_edge_with_strip({});
  const EdgeReading above = read(photo);
  cv::Mat turned;
  cv::rotate(photo.bgr, turned, cv::ROTATE_180);
  const EdgeReading below = read({turned, photo.thickness_mm});
  ASSERT_FALSE(above.top_px.empty());
  ASSERT_FALSE(below.top_px.empty());
  const double h = photo.bgr.rows - 1.0;
  EXPECT_NEAR(h - below.bottom_px[20].y, above.top_px[20].y, 1.0);
  EXPECT_NEAR(below.thickness_mean_mm, above.thickness_mean_mm, 0.005 * above.thickness_mean_mm);
}

// Seen with 12 % more at one side than at the other, as 8 degrees of tilt do at a distance of the picture's width.
TEST(FlushStrip, ATiltedPhotoGivesTheSameThicknessAndNoTaper) {
  EdgeWithStrip scene;
  scene.tilt_x = 0.12;
  scene.tilt_y = 0.06;
  const EdgeWithStripPhoto photo = draw_edge_with_strip(scene);
  const EdgeReading reading = read(photo, {}, with_bar(140.0));
  ASSERT_EQ(reading.scale_source, EdgeScaleSource::strip);
  EXPECT_NEAR(reading.thickness_mean_mm, photo.thickness_mm, reading.strip_thickness_mm->u95);
  EXPECT_NEAR(reading.thickness_mean_mm, photo.thickness_mm, 0.01 * photo.thickness_mm);
  EXPECT_NEAR(reading.taper_mm, 0.0, 0.02 * photo.thickness_mm);
  const EdgeReading by_caliper = read(photo, photo.thickness_mm, with_bar(140.0));
  EXPECT_NEAR(by_caliper.taper_mm, 0.0, 0.02 * photo.thickness_mm);
}

TEST(FlushStrip, AStripPrintedSmallIsPutRightByItsMeasuredBar) {
  EdgeWithStrip scene;
  scene.print = 0.96;
  const EdgeWithStripPhoto photo = draw_edge_with_strip(scene);
  const EdgeReading unknown = read(photo), known = read(photo, {}, with_bar(0.96 * 140.0));
  EXPECT_NEAR(unknown.thickness_mean_mm, photo.thickness_mm / 0.96, 0.01 * photo.thickness_mm);
  EXPECT_NEAR(known.thickness_mean_mm, photo.thickness_mm, 0.007 * photo.thickness_mm);
  EXPECT_LT(known.strip_thickness_mm->u95, unknown.strip_thickness_mm->u95);
}

TEST(FlushStrip, BesideACaliperItIsOnlyComparedAndADisagreementIsSaid) {
  const EdgeWithStripPhoto photo = draw_edge_with_strip({});
  const EdgeReading agreeing = read(photo, photo.thickness_mm, with_bar(140.0));
  EXPECT_EQ(agreeing.scale_source, EdgeScaleSource::caliper);
  EXPECT_DOUBLE_EQ(agreeing.thickness_mean_mm, photo.thickness_mm);
  EXPECT_TRUE(agreeing.scale_remark.empty());
  EXPECT_TRUE(agreeing.strip_thickness_mm);
  const EdgeReading off = read(photo, 1.06 * photo.thickness_mm, with_bar(140.0));
  EXPECT_DOUBLE_EQ(off.thickness_mean_mm, 1.06 * photo.thickness_mm);
  EXPECT_NE(off.scale_remark.find("caliper"), std::string::npos);
  EXPECT_EQ(off.plies_best, agreeing.plies_best);
}

}  // namespace
}  // namespace sheetloupe
