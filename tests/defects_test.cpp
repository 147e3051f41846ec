#include "sheetloupe/defects.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "sheetloupe/errors.h"
#include "sheetloupe/scene.h"
#include "support/flat_scene.h"
#include "support/matchers.h"
#include "support/shipped_net.h"

namespace sheetloupe {
namespace {

DefectAnalysis judge(const SceneSheet& scene, const RectifiedSheet& sheet) {
  (void)scene;
  return find_defects({sheet}, analyse_weave(sheet), "F");
}

DefectAnalysis judge(const SceneSheet& scene) { return judge(scene, flat_scene(scene)); }

TEST(Defects, NoPictureIsNotJudged) {
  const DefectAnalysis result = find_defects({}, {}, "F");
  EXPECT_FALSE(result.judged);
  EXPECT_FALSE(result.reason.empty());
}

TEST(Defects, WithoutAWeaveNothingIsJudgedAndNothingIsCalledSound) {
  RectifiedSheet sheet = flat_scene(small_sheet());
  WeaveAnalysis none;
  none.reason = "too blurred";
  const DefectAnalysis result = find_defects({sheet}, none, "F");
  EXPECT_FALSE(result.judged);
  EXPECT_EQ(cv::countNonZero(result.labels != 255), 0);
}

TEST(Defects, ASoundSheetGivesNothingWhereHardlyAFalseAlarmIsAllowed) {
  DefectOptions options;
  options.false_alarms_per_sheet = 0.02;
  for (const auto pattern : {WeavePattern::twill_2x2, WeavePattern::plain, WeavePattern::satin_5}) {
    SceneSheet sheet = small_sheet();
    sheet.pattern = pattern;
    const RectifiedSheet flat = flat_scene(sheet);
    const DefectAnalysis result = find_defects({flat}, analyse_weave(flat), "F", options);
    EXPECT_TRUE(result.judged);
    EXPECT_TRUE(result.items.empty()) << static_cast<int>(pattern) << ": " << result.items.size();
    EXPECT_GT(result.judged_fraction, 0.97);
  }
}

// The area cues average over half a tow: areas of spots above 50 mm2 are read to about a quarter.
TEST(Defects, ADrySpotIsFoundWhereItIsAndAboutAsLarge) {
  SceneSheet sheet = small_sheet();
  sheet.front = {{DefectLabel::dry_spot, {50, 40}, 6, 1, 3}};
  const double truth = cv::countNonZero(render_face(sheet, false, {}, 0.1).labels) * 0.01;
  const DefectAnalysis result = judge(sheet);
  ASSERT_EQ(result.items.size(), 1U);
  EXPECT_EQ(result.items[0].kind, DefectLabel::dry_spot);
  EXPECT_THAT(result.items[0].centre, IsNearPoint(SheetPoint{50, 40}, 1.5));
  EXPECT_NEAR(result.items[0].area_mm2, truth, 0.25 * truth);
  EXPECT_NEAR(result.items[0].keep_clear.value(), 0.4, 1e-6);  // a node of the cues' grid
  EXPECT_EQ(result.items[0].id, "F1");
}

TEST(Defects, OneHoleIsOnePinholeOfItsSize) {
  SceneSheet sheet = small_sheet();
  sheet.front = {{DefectLabel::pinhole, {70.3, 55.1}, 0.5, 1, 1}};
  const DefectAnalysis result = judge(sheet);
  ASSERT_EQ(result.items.size(), 1U);
  EXPECT_EQ(result.items[0].kind, DefectLabel::pinhole);
  EXPECT_THAT(result.items[0].centre, IsNearPoint(SheetPoint{70.3, 55.1}, 0.3));
  EXPECT_NEAR(result.items[0].max_diameter.value(), 1.0, 0.35);
}

DefectAnalysis judge_with_net(const SceneSheet& scene) {
  DefectOptions options;
  options.pinhole_net = shipped_net("pinholes.onnx");
  EXPECT_FALSE(options.pinhole_net.empty());
  const RectifiedSheet sheet = flat_scene(scene);
  return find_defects({sheet}, analyse_weave(sheet), "F", options);
}

TEST(PinholeNet, ASoundSheetGivesNothing) {
  for (const auto pattern : {WeavePattern::twill_2x2, WeavePattern::plain, WeavePattern::satin_5}) {
    SceneSheet sheet = small_sheet();
    sheet.pattern = pattern;
    EXPECT_TRUE(judge_with_net(sheet).items.empty()) << static_cast<int>(pattern);
  }
}

TEST(PinholeNet, OneHoleIsOnePinholeOfItsSizeRimmedOrNot) {
  for (const bool rim : {false, true}) {
    SceneSheet sheet = small_sheet();
    sheet.front = {{DefectLabel::pinhole, {70.3, 55.1}, 0.5, 1, 1, rim}};
    const DefectAnalysis result = judge_with_net(sheet);
    ASSERT_EQ(result.items.size(), 1U) << rim;
    EXPECT_EQ(result.items[0].kind, DefectLabel::pinhole);
    EXPECT_THAT(result.items[0].centre, IsNearPoint(SheetPoint{70.3, 55.1}, 0.6));
    EXPECT_NEAR(result.items[0].max_diameter.value(), 1.0, 0.45);
    EXPECT_GT(result.items[0].confidence, 0.5);
  }
}

// Flecks of dust are thin and bright. (A round white disc of a pit's size is what a pit filled with sanding dust looks
// like, so that is reported.)
TEST(PinholeNet, MostDustIsNoPinhole) {
  RectifiedSheet sheet = flat_scene(small_sheet());
  constexpr int kSpecks = 20;
  for (int i = 0; i < kSpecks; ++i)
    cv::ellipse(sheet.bgr, {100 + 97 * (i % 10), 200 + 431 * (i / 10)}, {4, 1}, 37.0 * i, 0, 360,
                cv::Scalar(205, 205, 205), cv::FILLED);
  DefectOptions options;
  options.pinhole_net = shipped_net("pinholes.onnx");
  const DefectAnalysis result = find_defects({sheet}, analyse_weave(sheet), "F", options);
  EXPECT_LE(result.items.size(), kSpecks / 4);
}

TEST(PinholeNet, MorePinholesAreReportedWhenMoreFalseOnesAreAllowed) {
  SceneSheet scene = small_sheet();
  for (int i = 0; i < 12; ++i)
    scene.front.push_back({DefectLabel::pinhole, {12.0 + 8 * i, 20.0 + 5 * (i % 4)}, 0.25, 0.6, 1});
  const RectifiedSheet sheet = flat_scene(scene);
  const WeaveAnalysis weave = analyse_weave(sheet);
  DefectOptions options;
  options.pinhole_net = shipped_net("pinholes.onnx");
  options.false_alarms_per_sheet = 0.01;
  const std::size_t few = find_defects({sheet}, weave, "F", options).items.size();
  options.false_alarms_per_sheet = 10;
  EXPECT_GE(find_defects({sheet}, weave, "F", options).items.size(), few);
}

DefectOptions trained(double suspects) {
  DefectOptions options;
  options.pinhole_net = shipped_net("pinholes.onnx");
  options.area_net = shipped_net("areas.onnx");
  options.suspects_per_sheet = suspects;
  return options;
}

TEST(Suspects, LeaveFindsAndLabelsAsTheyAreAndStandBesideThem) {
  SceneSheet scene = small_sheet();
  scene.front = {{DefectLabel::dry_spot, {40, 40}, 4, 1, 3}, {DefectLabel::dry_spot, {80, 60}, 1.2, 1, 4}};
  for (int i = 0; i < 12; ++i)
    scene.front.push_back({DefectLabel::pinhole, {12.0 + 8 * i, 20.0 + 5 * (i % 4)}, 0.12 + 0.02 * i, 0.5, 1});
  const RectifiedSheet sheet = flat_scene(scene);
  const WeaveAnalysis weave = analyse_weave(sheet);
  const DefectAnalysis without = find_defects({sheet}, weave, "F", trained(0)),
                       few = find_defects({sheet}, weave, "F", trained(0.5)),
                       many = find_defects({sheet}, weave, "F", trained(100));
  EXPECT_TRUE(without.suspects.empty());
  EXPECT_LE(few.suspects.size(), many.suspects.size());
  ASSERT_FALSE(many.suspects.empty());
  EXPECT_EQ(many.items.size(), without.items.size());
  EXPECT_EQ(cv::countNonZero(many.labels != without.labels), 0);
  EXPECT_EQ(many.suspects[0].id, "FS1");
  for (const Defect& suspect : many.suspects) {
    const cv::Point at(static_cast<int>(suspect.centre.x / sheet.mm_per_px),
                       static_cast<int>(suspect.centre.y / sheet.mm_per_px));
    EXPECT_TRUE(suspect.kind != DefectLabel::pinhole || many.labels.at<unsigned char>(at) == 0) << suspect.id;
  }
}

TEST(PinholeNet, BytesThatAreNoNetAreRefused) {
  SceneSheet scene = small_sheet();
  scene.front = {{DefectLabel::pinhole, {70.3, 55.1}, 0.5, 1, 1}};
  const RectifiedSheet sheet = flat_scene(scene);
  DefectOptions options;
  options.pinhole_net = {1, 2, 3, 4};
  EXPECT_THROW(find_defects({sheet}, analyse_weave(sheet), "F", options), InputError);
}

TEST(Defects, AResinPoolIsToldFromADrySpot) {
  SceneSheet sheet = small_sheet();
  sheet.front = {{DefectLabel::resin_rich, {60, 50}, 7, 1, 5}};
  const DefectAnalysis result = judge(sheet);
  ASSERT_EQ(result.items.size(), 1U);
  EXPECT_EQ(result.items[0].kind, DefectLabel::resin_rich);
}

TEST(Defects, GlareIsNotJudged) {
  const SceneSheet scene = small_sheet();
  RectifiedSheet sheet = flat_scene(scene);
  cv::circle(sheet.bgr, {400, 400}, 90, cv::Scalar(255, 255, 255), cv::FILLED);
  cv::circle(sheet.glare, {400, 400}, 95, cv::Scalar(255), cv::FILLED);
  const DefectAnalysis result = judge(scene, sheet);
  EXPECT_EQ(result.labels.at<unsigned char>(400, 400), 255);
  EXPECT_LT(result.judged_fraction, 0.99);
  for (const Defect& item : result.items) EXPECT_GT(distance_mm(item.centre, {40, 40}), 8.0);
}

TEST(Defects, CloserPhotosShowSmallerPinholes) {
  const SceneSheet scene = small_sheet();
  RectifiedSheet sheet = flat_scene(scene);
  const double fine = judge(scene, sheet).smallest_pinhole_mm;
  sheet.photo_mm_per_px *= 2;
  EXPECT_NEAR(judge(scene, sheet).smallest_pinhole_mm, 2 * fine, 1e-9);
}

}  // namespace
}  // namespace sheetloupe
