#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "sheetloupe/photo.h"

namespace sheetloupe {
namespace {

cv::Mat noise(const cv::Size& size, int type) {
  cv::Mat picture(size, type);
  cv::RNG dice(7);
  dice.fill(picture, cv::RNG::UNIFORM, 0, 256);
  return picture;
}

TEST(Shrunk, ByOneItIsThePictureItself) {
  const cv::Mat picture = noise({5, 4}, CV_8UC3);
  EXPECT_EQ(shrunk(picture, 1).data, picture.data);
}

TEST(Shrunk, SmallerThanOneGroupNothingIsLeft) { EXPECT_TRUE(shrunk(noise({5, 2}, CV_8UC1), 3).empty()); }

TEST(Shrunk, HalvesAreRoundedUp) {
  const cv::Mat picture = (cv::Mat_<unsigned char>(2, 2) << 1, 0, 1, 0);
  EXPECT_EQ(shrunk(picture, 2).at<unsigned char>(0, 0), 1);
}

// OpenCV's area interpolation gives the same means (documentation of INTER_AREA: pixel area relation); it may round a
// half the other way.
TEST(Shrunk, EveryPixelIsTheMeanOfItsGroup) {
  for (const int type : {CV_8UC1, CV_8UC3}) {
    for (const int factor : {2, 3, 4, 5, 7}) {
      const cv::Mat picture = noise({101, 67}, type), small = shrunk(picture, factor);
      ASSERT_EQ(small.size(), cv::Size(101 / factor, 67 / factor));
      cv::Mat expected;
      cv::resize(picture(cv::Rect({}, small.size() * factor)), expected, small.size(), 0, 0, cv::INTER_AREA);
      EXPECT_LE(cv::norm(small, expected, cv::NORM_INF), 1) << type << " by " << factor;
      EXPECT_LT(cv::norm(small, expected, cv::NORM_L1) / static_cast<double>(small.total()), 0.1);
    }
  }
}

TEST(Shrunk, WhiteStaysWhiteAtTheLargestFactor) {
  const cv::Mat small = shrunk(cv::Mat(512, 300, CV_8UC3, cv::Scalar(255, 255, 255)), 256);
  EXPECT_EQ(small.size(), cv::Size(1, 2));
  EXPECT_EQ(small.at<cv::Vec3b>(1, 0), cv::Vec3b(255, 255, 255));
}

}  // namespace
}  // namespace sheetloupe
