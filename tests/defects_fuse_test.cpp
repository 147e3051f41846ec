// Several photos of one face judged together.
#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "defects/fuse.h"
#include "sheetloupe/defects.h"
#include "support/flat_scene.h"

namespace sheetloupe {
namespace {

using namespace defects;

PhotoView view_of(const std::vector<PinholeFind>& finds) {
  PhotoView view;
  view.judged = cv::Mat1b(100, 100, static_cast<unsigned char>(255));
  view.pinholes.finds = finds;
  view.pinholes.threshold = 10;
  view.pinholes.least = 5;
  return view;
}

PinholeFind hole(cv::Point at, double score) { return {at, score, 1.0, 0.9, {}, score < 10}; }

TEST(FusedPinholes, OnePhotoStandsAsItIs) {
  const PinholeSearch fused = fuse_pinholes({view_of({hole({50, 50}, 12), hole({20, 20}, 6)})}, 0.1);
  EXPECT_EQ(fused.finds.size(), 2U);
}

TEST(FusedPinholes, SeenInBothStaysSeenInOneFalls) {
  const PinholeSearch fused =
      fuse_pinholes({view_of({hole({50, 50}, 12), hole({20, 20}, 11)}), view_of({hole({52, 51}, 11)})}, 0.1);
  ASSERT_EQ(fused.finds.size(), 2U);
  EXPECT_DOUBLE_EQ(fused.finds[0].score, 11.5);
  EXPECT_FALSE(fused.finds[0].suspect);
  EXPECT_DOUBLE_EQ(fused.finds[1].score, 8);  // with the least score of the photo that shows nothing there
  EXPECT_TRUE(fused.finds[1].suspect);
}

TEST(FusedPinholes, TheTwoPhotosThatShowItBestDecide) {
  const PinholeSearch fused = fuse_pinholes(
      {view_of({hole({50, 50}, 7)}), view_of({hole({50, 51}, 13)}), view_of({}), view_of({hole({51, 50}, 11)})}, 0.1);
  ASSERT_EQ(fused.finds.size(), 1U);
  EXPECT_DOUBLE_EQ(fused.finds[0].score, 12);
  EXPECT_FALSE(fused.finds[0].suspect);
}

TEST(FusedPinholes, APhotoThatGlareBlindsDoesNotVote) {
  PhotoView blind = view_of({});
  blind.judged(cv::Rect(40, 40, 20, 20)) = 0;
  const PinholeSearch fused = fuse_pinholes({view_of({hole({50, 50}, 12)}), blind}, 0.1);
  ASSERT_EQ(fused.finds.size(), 1U);
  EXPECT_DOUBLE_EQ(fused.finds[0].score, 12);
}

TEST(FusedAreas, EvidenceIsTheMeanOverThePhotosThatJudge) {
  const auto read = [](float left, float right) {
    return Read{cv::Mat1f((cv::Mat_<float>(1, 2) << left, right)), cv::Mat1f(1, 2, 1.F)};
  };
  const Read mean = mean_of({read(4, kNothing), read(-1, 3), read(kNothing, kNothing)});
  EXPECT_FLOAT_EQ(mean.evidence(0, 0), 1.5F);
  EXPECT_FLOAT_EQ(mean.evidence(0, 1), 3.F);
  EXPECT_FLOAT_EQ(mean_of({read(kNothing, 1), read(kNothing, 1)}).evidence(0, 0), kNothing);
}

TEST(FusedPhotos, GlareInOneIsJudgedFromTheOther) {
  SceneSheet scene = small_sheet();
  scene.front = {{DefectLabel::pinhole, {40, 40}, 0.5, 1, 1}};
  const RectifiedSheet clear = flat_scene(scene);
  RectifiedSheet blinded = flat_scene(scene);
  cv::circle(blinded.bgr, {400, 400}, 90, cv::Scalar(255, 255, 255), cv::FILLED);
  cv::circle(blinded.glare, {400, 400}, 95, cv::Scalar(255), cv::FILLED);
  const WeaveAnalysis weave = analyse_weave(clear);
  const DefectAnalysis alone = find_defects({blinded}, weave, "F"), both = find_defects({blinded, clear}, weave, "F");
  EXPECT_EQ(alone.labels.at<unsigned char>(380, 380), 255);
  EXPECT_TRUE(alone.items.empty());
  EXPECT_EQ(both.labels.at<unsigned char>(380, 380), 0);
  EXPECT_GT(both.judged_fraction, alone.judged_fraction);
  ASSERT_EQ(both.items.size(), 1U);
  EXPECT_LT(distance_mm(both.items[0].centre, {40, 40}), 0.6);
}

}  // namespace
}  // namespace sheetloupe
