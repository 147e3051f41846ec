// Decoding and writing beside OpenCV's own front to the same libraries, pixel by pixel.
#include <gtest/gtest.h>

#include <limits>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "io/float_tiff.h"
#include "io/photo/decode.h"
#include "io/photo/jpeg.h"
#include "support/odd_photos.h"

namespace sheetloupe {
namespace {

std::vector<unsigned char> raw(const std::string& bytes) { return {bytes.begin(), bytes.end()}; }

cv::Mat by_opencv(const std::string& bytes) { return cv::imdecode(raw(bytes), cv::IMREAD_COLOR); }

bool same(const cv::Mat& a, const cv::Mat& b) {
  return a.size() == b.size() && a.type() == b.type() && cv::norm(a, b, cv::NORM_INF) == 0;
}

// Shapes under noise: smooth places, edges and every level.
cv::Mat picture(const cv::Size& size, int type) {
  cv::Mat p(size, type);
  cv::RNG random(5);
  random.fill(p, cv::RNG::NORMAL, CV_MAT_DEPTH(type) == CV_16U ? 30000 : 120, CV_MAT_DEPTH(type) == CV_16U ? 9000 : 30);
  cv::GaussianBlur(p, p, {}, 2);
  cv::circle(p, {size.width / 2, size.height / 2}, std::max(1, size.height / 3), cv::Scalar::all(20), -1);
  return p;
}

TEST(Jpeg, OnePixelIsDecodedAsByOpenCv) {
  const std::string bytes = encoded(".jpg", cv::Mat(1, 1, CV_8UC3, cv::Scalar(10, 90, 200)));
  EXPECT_TRUE(same(decode_jpeg(bytes), by_opencv(bytes)));
}

TEST(Jpeg, ColourAndGreyOfOddSizesAreDecodedAsByOpenCv) {
  for (const cv::Size size : {cv::Size(17, 9), cv::Size(333, 251), cv::Size(640, 481)}) {
    for (const int type : {CV_8UC1, CV_8UC3}) {
      const std::string bytes = encoded(".jpg", picture(size, type));
      EXPECT_TRUE(same(decode_jpeg(bytes), by_opencv(bytes))) << size << " type " << type;
    }
  }
}

TEST(Jpeg, IsWrittenByteForByteAsByOpenCv) {
  const cv::Mat p = picture({333, 251}, CV_8UC3);
  for (const int quality : {40, 88, 95}) {
    std::vector<unsigned char> expected;
    cv::imencode(".jpg", p, expected, {cv::IMWRITE_JPEG_QUALITY, quality});
    EXPECT_EQ(raw(jpeg_bytes(p, quality)), expected) << quality;
  }
}

TEST(Jpeg, ABrokenHeaderGivesNoPicture) {
  const std::string bytes = encoded(".jpg", picture({64, 64}, CV_8UC3));
  EXPECT_TRUE(decode_jpeg("").empty());
  EXPECT_TRUE(decode_jpeg(bytes.substr(0, 20)).empty());
  EXPECT_TRUE(decode_jpeg("no picture at all").empty());
}

TEST(Png, EveryKindIsDecodedAsByOpenCv) {
  for (const int type : {CV_8UC1, CV_8UC3, CV_8UC4}) {
    const std::string bytes = encoded(".png", picture({123, 77}, type));
    EXPECT_TRUE(same(decode_png(bytes), by_opencv(bytes))) << type;
  }
}

TEST(Png, SixteenBitsBecomeEightWithinALevel) {
  for (const int type : {CV_16UC1, CV_16UC3}) {
    const std::string bytes = encoded(".png", picture({123, 77}, type));
    EXPECT_LE(cv::norm(decode_png(bytes), by_opencv(bytes), cv::NORM_INF), 1.0) << type;
  }
}

TEST(Tiff, ColourAndGreyAreDecodedAsByOpenCv) {
  for (const int type : {CV_8UC1, CV_8UC3}) {
    const std::string bytes = encoded(".tiff", picture({123, 77}, type));
    EXPECT_TRUE(same(decode_tiff(bytes), by_opencv(bytes))) << type;
  }
}

TEST(Tiff, ACutFileGivesNoPicture) {
  const std::string bytes = encoded(".tiff", picture({123, 77}, CV_8UC3));
  EXPECT_TRUE(decode_tiff("").empty());
  EXPECT_TRUE(decode_tiff(bytes.substr(0, bytes.size() / 2)).empty());
}

TEST(FloatTiff, NumbersAndGapsComeBackThroughOpenCv) {
  cv::Mat1f map(7, 5);
  cv::randu(map, -90, 90);
  map(3, 2) = std::numeric_limits<float>::quiet_NaN();
  const cv::Mat back = cv::imdecode(raw(float_tiff(map)), cv::IMREAD_UNCHANGED);
  ASSERT_EQ(back.type(), CV_32FC1);
  ASSERT_EQ(back.size(), map.size());
  for (int r = 0; r < map.rows; ++r) {
    for (int c = 0; c < map.cols; ++c) {
      if (r == 3 && c == 2)
        EXPECT_TRUE(std::isnan(back.at<float>(r, c)));
      else
        EXPECT_EQ(back.at<float>(r, c), map(r, c));
    }
  }
}

}  // namespace
}  // namespace sheetloupe
