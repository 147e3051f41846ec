#include <gmock/gmock.h>

#include <opencv2/imgproc.hpp>
#include <string>

#include "sheetloupe/photo.h"

namespace sheetloupe {
namespace {

using testing::AnyOf;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

// A board of 24-px squares, grey 60 and 180, drawn 8 times larger and averaged down so that its edges are the box of
// one pixel that a sensor makes, then blurred by a known sigma. Turned by 7 degrees, so edges meet pixels anywhere.
Photo board(double sigma_px, cv::Size size = {960, 720}) {
  constexpr int kFine = 4;
  cv::Mat fine(size * kFine, CV_8UC1);
  const double c = std::cos(7 * CV_PI / 180), s = std::sin(7 * CV_PI / 180);
  for (int y = 0; y < fine.rows; ++y) {
    for (int x = 0; x < fine.cols; ++x) {
      const double u = (c * x + s * y) / kFine, v = (c * y - s * x) / kFine;
      const auto i = static_cast<long>(std::floor(u / 24)), j = static_cast<long>(std::floor(v / 24));
      fine.at<unsigned char>(y, x) = (i + j) % 2 == 0 ? 60 : 180;
    }
  }
  cv::Mat grey;
  cv::resize(fine, grey, size, 0, 0, cv::INTER_AREA);
  if (sigma_px > 0) cv::GaussianBlur(grey, grey, {}, sigma_px);
  Photo photo;
  cv::cvtColor(grey, photo.bgr, cv::COLOR_GRAY2BGR);
  return photo;
}

cv::Mat all_of(const Photo& photo) { return {photo.bgr.size(), CV_8UC1, cv::Scalar(255)}; }

TEST(PhotoCheck, NoFaceSaysNothing) {
  const Photo photo = board(0);
  const PhotoCheck check = check_photo(photo, cv::Mat::zeros(photo.bgr.size(), CV_8UC1), 0.1);
  EXPECT_EQ(check.blown_fraction, 0.0);
  EXPECT_THAT(check.advice, IsEmpty());
}

TEST(PhotoCheck, ASharpWellLitPhotoGetsNoAdvice) {
  const Photo photo = board(0.7);
  EXPECT_THAT(check_photo(photo, all_of(photo), 0.1).advice, IsEmpty());
}

TEST(PhotoCheck, AFlatPictureHasNoEdgeToReadBlurFrom) {
  Photo photo;
  photo.bgr = cv::Mat(600, 800, CV_8UC3, cv::Scalar::all(90));
  EXPECT_EQ(check_photo(photo, all_of(photo), 0.1).blur_sigma_px, 0.0);
}

// Gaussians add in squares, and the sensor's box of one pixel has variance 1/12.
TEST(PhotoCheck, BlurIsReadAsTheSigmaThatWasPutIn) {
  for (const double sigma : {0.8, 1.2, 1.6, 2.0, 2.5}) {
    const Photo photo = board(sigma);
    EXPECT_NEAR(check_photo(photo, all_of(photo), 0.1).blur_sigma_px, std::sqrt(sigma * sigma + 1.0 / 12), 0.15 * sigma)
        << sigma;
  }
}

TEST(PhotoCheck, MoreBlurNeverReadsAsLess) {
  double before = 0;
  for (const double sigma : {0.5, 1.0, 2.0, 3.0, 4.0, 5.0}) {
    const Photo photo = board(sigma);
    const double read = check_photo(photo, all_of(photo), 0.1).blur_sigma_px;
    EXPECT_GT(read, before) << sigma;
    before = read;
  }
}

TEST(PhotoCheck, AShakenPhotoIsToldToBeRetaken) {
  const Photo photo = board(4.0);
  EXPECT_THAT(check_photo(photo, all_of(photo), 0.1).advice, ElementsAre(HasSubstr("not sharp")));
}

TEST(PhotoCheck, GlareOnTheFaceIsCountedAndGlareBesideItIsNot) {
  Photo photo = board(0.7);
  photo.bgr(cv::Rect(0, 0, 240, 720)) = cv::Scalar::all(255);  // a quarter of the picture, left
  cv::Mat right = all_of(photo), both = all_of(photo);
  right(cv::Rect(0, 0, 240, 720)) = 0;
  const PhotoCheck glare = check_photo(photo, both, 0.1);
  EXPECT_NEAR(glare.blown_fraction, 0.25, 1e-9);
  EXPECT_THAT(glare.advice, ElementsAre(HasSubstr("25 % of the face is glare")));
  EXPECT_EQ(check_photo(photo, right, 0.1).blown_fraction, 0.0);
  EXPECT_THAT(check_photo(photo, right, 0.1).advice, IsEmpty());
}

TEST(PhotoCheck, BlackPartsAskForLight) {
  Photo photo = board(0.7);
  photo.bgr(cv::Rect(0, 0, 960, 72)) = cv::Scalar::all(0);
  const PhotoCheck check = check_photo(photo, all_of(photo), 0.1);
  EXPECT_NEAR(check.crushed_fraction, 0.1, 1e-9);
  EXPECT_THAT(check.advice, ElementsAre(HasSubstr("10 % of the face is black")));
}

TEST(PhotoCheck, ACoarsePhotoIsToldToGoCloserAndAnUnknownScaleIsNot) {
  const Photo photo = board(0.7);
  EXPECT_THAT(check_photo(photo, all_of(photo), 0.2).advice, ElementsAre(HasSubstr("Go closer")));
  EXPECT_THAT(check_photo(photo, all_of(photo), 0.0).advice, IsEmpty());
}

TEST(PhotoCheck, ThePhotoIsNotChanged) {
  const Photo photo = board(1.0);
  const cv::Mat before = photo.bgr.clone();
  check_photo(photo, all_of(photo), 0.1);
  EXPECT_EQ(cv::norm(before, photo.bgr, cv::NORM_INF), 0.0);
}

// Cloth about 60 with a reflection that ends at `top`, B, G, R; noise as a JPEG leaves it.
cv::Mat cloth_under_lamp(const cv::Scalar& top, int radius_px) {
  cv::Mat bgr(400, 600, CV_8UC3, cv::Scalar::all(60));
  for (int c = 0; c < bgr.cols; c += 12) bgr(cv::Rect(c, 0, 6, bgr.rows)) = cv::Scalar::all(85);
  cv::circle(bgr, {300, 200}, radius_px, top, cv::FILLED);
  cv::Mat noise(bgr.size(), CV_16SC3), sum;
  cv::RNG random(5);
  random.fill(noise, cv::RNG::NORMAL, cv::Scalar::all(0), cv::Scalar::all(1));
  cv::add(bgr, noise, sum, cv::noArray(), CV_8U);
  return sum;
}

cv::Vec3d levels_of(const cv::Mat& bgr, const std::optional<cv::Vec3d>& paper) {
  return blown_levels(bgr, cv::Mat(bgr.size(), CV_8UC1, cv::Scalar(255)), paper);
}

TEST(BlownLevels, AreTheUsualOnesWhereTheLampReaches255) {
  const cv::Vec3d levels = levels_of(cloth_under_lamp(cv::Scalar::all(255), 30), cv::Vec3d(200, 200, 200));
  for (int k = 0; k < 3; ++k) EXPECT_NEAR(levels[k], 250, 1.5) << k;
}

TEST(BlownLevels, FollowTheTopOfEachChannelWhereThePhotoWasToned) {
  const cv::Mat bgr = cloth_under_lamp({218, 235, 244}, 30);
  const cv::Vec3d levels = levels_of(bgr, cv::Vec3d(190, 200, 205));
  EXPECT_NEAR(levels[0], 213, 2.5);
  EXPECT_NEAR(levels[1], 230, 2.5);
  EXPECT_NEAR(levels[2], 239, 2.5);
  cv::Mat blown;
  cv::inRange(bgr, levels, cv::Scalar::all(255), blown);
  EXPECT_GT(cv::countNonZero(blown), 0.97 * CV_PI * 30 * 30);
  EXPECT_LT(cv::countNonZero(blown), 1.03 * CV_PI * 30 * 30);
}

// A dry spot is the brightest thing on many a face, and darker than paper.
TEST(BlownLevels, NothingDarkerThanPaperIsLampLight) {
  const cv::Mat bgr = cloth_under_lamp(cv::Scalar::all(150), 30);
  EXPECT_EQ(levels_of(bgr, cv::Vec3d(200, 200, 200)), cv::Vec3d(250, 250, 250));
  EXPECT_NE(levels_of(bgr, cv::Vec3d(140, 140, 140)), cv::Vec3d(250, 250, 250));
}

TEST(BlownLevels, AreTheUsualOnesWithoutPaperOrWithAGlintAlone) {
  const cv::Vec3d usual(250, 250, 250), paper(200, 200, 200);
  EXPECT_EQ(levels_of(cloth_under_lamp(cv::Scalar::all(240), 30), std::nullopt), usual);
  EXPECT_EQ(levels_of(cloth_under_lamp(cv::Scalar::all(240), 2), paper), usual);
  EXPECT_EQ(levels_of(cv::Mat(), paper), usual);
}

// The wetted tows' sheen may pass the paper's level here and there: levels between 60 and 240, fewer the brighter.
TEST(BlownLevels, SheenIsNoPile) {
  cv::Mat bgr(600, 600, CV_8UC3);
  for (int r = 0; r < bgr.rows; ++r) {
    for (int c = 0; c < bgr.cols; ++c)
      bgr.at<cv::Vec3b>(r, c) = cv::Vec3b::all(cv::saturate_cast<unsigned char>(60 + 180 * std::pow(r / 600.0, 4)));
  }
  EXPECT_EQ(levels_of(bgr, cv::Vec3d(200, 200, 200)), cv::Vec3d(250, 250, 250));
}

// Beside the face the table may be as bright as it likes.
TEST(BlownLevels, OnlyTheFaceCounts) {
  const cv::Mat bgr = cloth_under_lamp({218, 235, 244}, 30);
  cv::Mat face(bgr.size(), CV_8UC1, cv::Scalar(255));
  cv::circle(face, {300, 200}, 40, cv::Scalar(0), cv::FILLED);
  EXPECT_EQ(blown_levels(bgr, face, cv::Vec3d(190, 200, 205)), cv::Vec3d(250, 250, 250));
}

TEST(PhotoCheck, GlareThatEndsBelow255IsCountedFromTheLevelGiven) {
  Photo photo = board(0.7);
  photo.bgr(cv::Rect(0, 0, 240, 720)) = cv::Scalar::all(240);
  PhotoCheckOptions options;
  EXPECT_EQ(check_photo(photo, all_of(photo), 0.1, options).blown_fraction, 0.0);
  options.blown = {235, 235, 235};
  EXPECT_NEAR(check_photo(photo, all_of(photo), 0.1, options).blown_fraction, 0.25, 1e-9);
}

}  // namespace
}  // namespace sheetloupe
