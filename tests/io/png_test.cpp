// Read back by libpng (through OpenCV), which checks lengths, CRCs, filters and the packed stream.
#include "io/png.h"

#include <gtest/gtest.h>

#include <opencv2/imgcodecs.hpp>

namespace sheetloupe {
namespace {

cv::Mat read_back(const std::string& png) {
  return cv::imdecode(std::vector<unsigned char>(png.begin(), png.end()), cv::IMREAD_UNCHANGED);
}

bool same(const cv::Mat& a, const cv::Mat& b) {
  return a.size() == b.size() && a.type() == b.type() && cv::norm(a, b, cv::NORM_INF) == 0;
}

cv::Mat noise(const cv::Size& size, int type) {
  cv::Mat picture(size, type);
  cv::RNG random(7);
  random.fill(picture, cv::RNG::UNIFORM, 0, 256);
  return picture;
}

TEST(Png, OnePixelComesBackAsItWas) {
  const cv::Mat colour(1, 1, CV_8UC3, cv::Scalar(1, 2, 250)), label(1, 1, CV_8UC1, cv::Scalar(255));
  EXPECT_TRUE(same(read_back(png_bytes(colour)), colour));
  EXPECT_TRUE(same(read_back(png_bytes(label)), label));
}

TEST(Png, NoiseOfOddSizesComesBackAsItWas) {
  for (const cv::Size size : {cv::Size(1, 7), cv::Size(7, 1), cv::Size(333, 77), cv::Size(1001, 501)}) {
    for (const int type : {CV_8UC1, CV_8UC3, CV_8UC4}) {
      const cv::Mat picture = noise(size, type);
      EXPECT_TRUE(same(read_back(png_bytes(picture)), picture)) << size << " type " << type;
    }
  }
}

TEST(Png, APartOfALargerPictureComesBackAsItWas) {
  const cv::Mat picture = noise({90, 60}, CV_8UC3)(cv::Rect(11, 7, 50, 40));
  EXPECT_TRUE(same(read_back(png_bytes(picture)), picture));
}

TEST(Png, FlatLabelsPackToNearlyNothing) {
  EXPECT_LT(png_bytes(cv::Mat(1800, 2400, CV_8UC1, cv::Scalar(0))).size(), 6000U);
}

}  // namespace
}  // namespace sheetloupe
