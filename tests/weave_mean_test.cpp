// The mean directions through the whole chain: generated photo, strips, outline, picture laid flat, weave.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sheetloupe/markers.h"
#include "sheetloupe/outline.h"
#include "sheetloupe/rectify.h"
#include "sheetloupe/scale.h"
#include "sheetloupe/scene.h"
#include "sheetloupe/weave.h"

namespace sheetloupe {
namespace {

SceneSheet dragged_sheet(int k, SceneRandom& random) {
  SceneSheet sheet;
  sheet.width_mm = 150;
  sheet.height_mm = 110;
  sheet.pattern = std::array{WeavePattern::plain, WeavePattern::twill_2x2, WeavePattern::satin_5}[k % 3];
  sheet.warp_deg = random.between(-10, 10);
  sheet.weft_deg = sheet.warp_deg + 90 + random.between(-1, 1);
  sheet.warp_pitch_mm = random.between(1.9, 2.6);
  sheet.weft_pitch_mm = sheet.warp_pitch_mm * random.between(0.92, 1.1);
  sheet.seed = static_cast<std::uint64_t>(7300 + k);
  // 6 degrees at the steepest: 0.61 h / r.
  const double radius = random.between(15, 25), height = radius * std::tan(6 * CV_PI / 180) / 0.61;
  sheet.drags = {{{random.between(30, 120), random.between(30, 80)}, radius, {0.7 * height, 0.7 * height}}};
  return sheet;
}

RectifiedSheet photographed(const SceneSheet& sheet, SceneRandom& random) {
  SceneCamera camera;
  camera.size = {2000, 1500};
  camera.over = {75, 55};
  camera.height_mm = random.between(270, 310);
  camera.tilt_deg = random.between(0, 15);
  camera.tilt_toward_deg = random.between(0, 360);
  camera.roll_deg = random.between(-8, 8);
  const ScenePhoto drawn = render_photo(sheet, false, {}, camera);
  Photo photo;
  photo.bgr = drawn.bgr;
  ScaleInput input;
  input.markers = find_markers(photo.bgr).markers;
  input.image_size = photo.bgr.size();
  input.focal_35mm_mm = camera.focal_35mm_mm;
  input.standards.strip_length_mm = Measured{250, 0.3};
  input.standards.thickness_mm = Measured{sheet.thickness_mm, 0.1};
  const Scale table = fit_scale(input, {});
  const Outline outline = find_outline(photo.bgr, input.markers, table.map.get(), Mm(sheet.thickness_mm), {});
  input.corners_px = outline.corners_px;
  input.corner_u95_px = outline.corner_u95_px;
  input.outline_px = outline.polygon_px;
  const Scale scale = fit_scale(input, {});
  RectifiedSheet flat = rectify(photo, *scale.map, outline, {});
  flat.length_u95 = scale.position_u95_mm / (0.5 * std::hypot(sheet.width_mm, sheet.height_mm));
  return flat;
}

double median(std::vector<double> values) {
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2), values.end());
  return values[values.size() / 2];
}

// Median spacing over the face, mm, from the generator's tow counts at `mm_per_px`.
double true_spacing(const cv::Mat1f& count, double mm_per_px) {
  std::vector<double> spacing;
  for (int r = 4; r + 4 < count.rows; r += 4) {
    for (int c = 4; c + 4 < count.cols; c += 4)
      spacing.push_back(6 * mm_per_px /
                        std::hypot(count(r, c + 3) - count(r, c - 3), count(r + 3, c) - count(r - 3, c)));
  }
  return median(spacing);
}

// The largest turn of a tow from the mean direction among the places that were read.
double true_worst_turn(const cv::Mat1f& count, double mm_per_px, double mean_deg, const WeaveAnalysis& weave) {
  double worst = 0;
  for (int row = 0; row < weave.warp_deg.rows; ++row) {
    for (int column = 0; column < weave.warp_deg.cols; ++column) {
      if (std::isnan(weave.warp_deg.at<float>(row, column))) continue;
      const int c = cvRound((weave.map_origin.x + (column + 0.5) * weave.map_mm_per_px) / mm_per_px - 0.5),
                r = cvRound((weave.map_origin.y + (row + 0.5) * weave.map_mm_per_px) / mm_per_px - 0.5);
      if (c < 3 || r < 3 || c + 3 >= count.cols || r + 3 >= count.rows) continue;
      const double axis =
          std::atan2(-(count(r, c + 3) - count(r, c - 3)), -(count(r + 3, c) - count(r - 3, c))) * 180 / CV_PI;
      worst = std::max(worst, std::abs(wrap_turn_degrees(axis - mean_deg)));
    }
  }
  return worst;
}

// Median over the face, from the generator's tow counts.
double true_mean(const cv::Mat1f& count, double about_deg) {
  std::vector<double> turns;
  for (int r = 4; r + 4 < count.rows; r += 4) {
    for (int c = 4; c + 4 < count.cols; c += 4) {
      turns.push_back(wrap_turn_degrees(
          std::atan2(-(count(r, c + 3) - count(r, c - 3)), -(count(r + 3, c) - count(r - 3, c))) * 180 / CV_PI -
          about_deg));
    }
  }
  return about_deg + median(turns);
}

TEST(WeaveMean, DirectionsAndSpacingsOfPhotographedSheetsLieWithinTheirUncertainty) {
  int inside = 0, all = 0, spacings = 0, worst = 0;
  double largest_u95 = 0;
  for (int k = 0; k < 4; ++k) {
    SceneRandom random(static_cast<std::uint64_t>(7300 + k));
    const SceneSheet sheet = dragged_sheet(k, random);
    const SceneFace truth = render_face(sheet, false, {}, 0.25);
    const WeaveAnalysis weave = analyse_weave(photographed(sheet, random));
    ASSERT_TRUE(weave.found) << k << ": " << weave.reason;
    EXPECT_EQ(weave.pattern, sheet.pattern);
    const double warp = wrap_turn_degrees(weave.warp.degrees() - true_mean(truth.warp_count, sheet.warp_deg)),
                 weft = wrap_turn_degrees(weave.weft.degrees() - true_mean(truth.weft_count, sheet.weft_deg));
    inside += (std::abs(warp) <= weave.angle_u95_deg) + (std::abs(weft) <= weave.angle_u95_deg);
    all += 2;
    spacings +=
        std::abs(weave.warp_pitch.value() - true_spacing(truth.warp_count, 0.25)) <= weave.warp_pitch_u95.value();
    spacings +=
        std::abs(weave.weft_pitch.value() - true_spacing(truth.weft_count, 0.25)) <= weave.weft_pitch_u95.value();
    EXPECT_LT(weave.warp_pitch_u95 / weave.warp_pitch, 0.005);
    const double turn =
        std::max(true_worst_turn(truth.warp_count, 0.25, true_mean(truth.warp_count, sheet.warp_deg), weave),
                 true_worst_turn(truth.weft_count, 0.25, true_mean(truth.weft_count, sheet.weft_deg), weave));
    worst += std::abs(weave.deviation_max_deg - turn) <= weave.deviation_max_u95_deg;
    EXPECT_LT(std::max(std::abs(warp), std::abs(weft)), 0.4);
    largest_u95 = std::max(largest_u95, weave.angle_u95_deg);
  }
  // 95 % is meant: of eight, two or more outside have a chance of one in seventeen.
  EXPECT_GE(inside, all - 1);
  EXPECT_GE(spacings, all - 1);
  EXPECT_EQ(worst, 4);
  EXPECT_LT(largest_u95, 0.3);
}

}  // namespace
}  // namespace sheetloupe
