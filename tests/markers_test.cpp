#include "sheetloupe/markers.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "support/synthetic_strips.h"

namespace sheetloupe {
namespace {

// One marker on white paper, as drawn: middle, side, turn, tilt (far side shorter).
struct Drawn {
  int id = 0;
  double x = 300, y = 300, side = 100, turn_deg = 0, shorten = 1.0;

  std::array<ImagePoint, 4> corners() const {
    std::array<ImagePoint, 4> c;
    constexpr std::array<double, 4> kSx = {-1, 1, 1, -1}, kSy = {-1, -1, 1, 1};
    for (int i = 0; i < 4; ++i) c[i] = at(0.5 * kSx[i], 0.5 * kSy[i]);
    return c;
  }
  // Marker units (-0.5 .. 0.5) to px.
  ImagePoint at(double u, double v) const {
    const double t = turn_deg * std::numbers::pi / 180.0;
    const double a = u * side, b = v * side * shorten;
    return {x + std::cos(t) * a - std::sin(t) * b, y + std::sin(t) * a + std::cos(t) * b};
  }
};

// Exact area coverage to 1/64: every px is the mean of 8 x 8 samples of the true scene. `shadow_from`: columns from
// there on get a fifth of the light. Grey levels are stored with the 2.2th root.
cv::Mat picture(const std::vector<Drawn>& markers, int width = 640, int height = 640, double blur_px = 0.7,
                double shadow_from = 1e9) {
  constexpr int kSamples = 8;
  cv::Mat light(height, width, CV_32F, cv::Scalar(0.7));
  for (const Drawn& m : markers) {
    const cv::Mat bits = marker_bits(m.id);
    const double t = m.turn_deg * std::numbers::pi / 180.0;
    const int reach = static_cast<int>(m.side) + 2;
    for (int y = std::max(0, static_cast<int>(m.y) - reach); y < std::min(height, static_cast<int>(m.y) + reach); ++y) {
      for (int x = std::max(0, static_cast<int>(m.x) - reach); x < std::min(width, static_cast<int>(m.x) + reach);
           ++x) {
        double sum = 0;
        for (int i = 0; i < kSamples * kSamples; ++i) {
          const double dx = x - 0.5 + (i % kSamples + 0.5) / kSamples - m.x;
          const double dy = y - 0.5 + (i / kSamples + 0.5) / kSamples - m.y;
          const double u = (std::cos(t) * dx + std::sin(t) * dy) / m.side + 0.5;
          const double v = (-std::sin(t) * dx + std::cos(t) * dy) / (m.side * m.shorten) + 0.5;
          const bool inside = u >= 0 && u < 1 && v >= 0 && v < 1;
          const bool black = inside && bits.at<unsigned char>(static_cast<int>(v * 6), static_cast<int>(u * 6)) == 0;
          sum += black ? 0.05 : 0.7;
        }
        light.at<float>(y, x) = std::min(light.at<float>(y, x), static_cast<float>(sum / (kSamples * kSamples)));
      }
    }
  }
  for (int x = 0; x < width; ++x) {
    if (x >= shadow_from) light.col(x) *= 0.2;
  }
  if (blur_px > 0) cv::GaussianBlur(light, light, {0, 0}, blur_px);
  cv::Mat stored, bgr;
  cv::pow(light, 1 / 2.2, stored);
  stored.convertTo(stored, CV_8U, 255.0);
  cv::cvtColor(stored, bgr, cv::COLOR_GRAY2BGR);
  return bgr;
}

double worst_px(const Marker& found, const Drawn& drawn) {
  double worst = 0.0;
  const auto truth = drawn.corners();
  for (int i = 0; i < 4; ++i) worst = std::max(worst, distance_px(found.corners[i], truth[i]));
  return worst;
}

TEST(Markers, AnEmptyPictureHasNone) {
  EXPECT_TRUE(find_markers(cv::Mat()).markers.empty());
  EXPECT_TRUE(find_markers(cv::Mat(1, 1, CV_8UC3, cv::Scalar(9, 9, 9))).markers.empty());
  EXPECT_TRUE(find_markers(cv::Mat(400, 600, CV_8UC3, cv::Scalar(200, 200, 200))).markers.empty());
}

TEST(Markers, NoiseAndStripesAreNotMarkers) {
  Dice dice(3);
  cv::Mat noise(600, 800, CV_8UC3);
  for (int y = 0; y < noise.rows; ++y) {
    for (int x = 0; x < noise.cols * 3; ++x) {
      noise.ptr(y)[x] = static_cast<unsigned char>(dice.uniform(0, 120) + (x / 60 % 2) * 100);
    }
  }
  EXPECT_TRUE(find_markers(noise).markers.empty());
}

// DICT_4X4_50, id 0: the bytes 181, 50 (OpenCV 4.6, modules/aruco/src/predefined_dictionaries.hpp, first entry), row
// by row from the top left, 1 = white: 1011 0101 0011 0010.
TEST(Markers, TheFirstMarkerIsThePublishedPattern) {
  const cv::Mat bits = marker_bits(0);
  ASSERT_EQ(bits.size(), cv::Size(6, 6));
  const std::array<const char*, 4> rows = {"1011", "0101", "0011", "0010"};
  for (int r = 0; r < 6; ++r) {
    for (int c = 0; c < 6; ++c) {
      const bool border = r == 0 || c == 0 || r == 5 || c == 5;
      const bool white = !border && rows[r - 1][c - 1] == '1';
      EXPECT_EQ(bits.at<unsigned char>(r, c), white ? 255 : 0) << r << "," << c;
    }
  }
}

TEST(Markers, OneIsFoundWithItsCornersToAFewHundredthsOfAPixel) {
  for (const double turn : {0.0, 17.0, 45.0, 133.0, 271.0}) {
    const Drawn drawn{7, 310.3, 295.8, 120, turn, 0.9};
    const MarkerSearch search = find_markers(picture({drawn}));
    ASSERT_EQ(search.markers.size(), 1U) << turn;
    EXPECT_EQ(search.markers[0].id, 7);
    EXPECT_LT(worst_px(search.markers[0], drawn), 0.08) << turn;  // 8-bit levels of equal rows round alike
  }
}

TEST(Markers, BlurDoesNotMoveTheCorners) {
  const Drawn drawn{3, 310.3, 295.8, 120, 12, 1.0};
  for (const double blur : {0.4, 1.0, 1.6}) {
    const MarkerSearch search = find_markers(picture({drawn}, 640, 640, blur));
    ASSERT_EQ(search.markers.size(), 1U);
    EXPECT_LT(worst_px(search.markers[0], drawn), 0.10) << blur;
  }
}

// The drawn paper reflects 0.7 and lies on 0.7^(1/2.2) of 255.
TEST(Markers, PaperIsAsBrightAsOnItsBrightestMarker) {
  const cv::Mat bgr = picture({{7, 160, 160, 120, 12, 1.0}, {3, 480, 480, 120, 40, 1.0}}, 640, 640, 0.7, 320);
  const MarkerSearch search = find_markers(bgr);
  ASSERT_EQ(search.markers.size(), 2U);
  const std::optional<cv::Vec3d> level = paper_level(bgr, search.markers);
  ASSERT_TRUE(level);
  const double lit = 255 * std::pow(0.7, 1 / 2.2);
  for (int k = 0; k < 3; ++k) EXPECT_NEAR((*level)[k], lit, 1) << k;
  const auto& shaded = search.markers[0].id == 3 ? search.markers[0] : search.markers[1];
  EXPECT_NEAR((*paper_level(bgr, {shaded}))[1], 255 * std::pow(0.14, 1 / 2.2), 1);
  EXPECT_FALSE(paper_level(bgr, {}));
  // Of one that hangs out of the picture only what is in it counts.
  Marker outside = search.markers[0];
  for (ImagePoint& p : outside.corners) p.x -= 2000;
  EXPECT_FALSE(paper_level(bgr, {outside}));
}

// What the eye calls small: 20 px a side is 3.3 px a cell.
TEST(Markers, SmallOnesAreFoundToATenth) {
  for (const double side : {20.0, 28.0, 40.0}) {
    const Drawn drawn{11, 310.3, 295.8, side, 12, 1.0};
    const MarkerSearch search = find_markers(picture({drawn}, 640, 640, 0.5));
    ASSERT_EQ(search.markers.size(), 1U) << side;
    EXPECT_LT(worst_px(search.markers[0], drawn), 0.12) << side;
  }
}

TEST(Markers, AShadowAcrossTheMarkerDoesNotHideIt) {
  for (const double edge : {295.0, 302.0, 310.0, 318.0, 325.0}) {
    const Drawn drawn{5, 310.3, 295.8, 60, 12, 1.0};
    const MarkerSearch search = find_markers(picture({drawn}, 1280, 960, 0.7, edge));
    ASSERT_EQ(search.markers.size(), 1U) << edge;
    EXPECT_LT(worst_px(search.markers[0], drawn), 0.25) << edge;
  }
}

TEST(Markers, IdsOutsideTheStripsAreIgnored) {
  EXPECT_TRUE(find_markers(picture({{20}, {49, 120, 120, 80}})).markers.empty());
}

TEST(Markers, AnIdSeenTwiceIsDroppedAndNamed) {
  const MarkerSearch search = find_markers(picture({{4, 150, 150, 80}, {4, 450, 450, 80}, {9, 150, 450, 80}}));
  ASSERT_EQ(search.markers.size(), 1U);
  EXPECT_EQ(search.markers[0].id, 9);
  EXPECT_EQ(search.duplicated_ids, std::vector<int>{4});
}

TEST(Markers, OneCutByThePicturesBorderIsNotUsed) {
  EXPECT_TRUE(find_markers(picture({{6, 20, 300, 100}})).markers.empty());
}

TEST(Markers, AllTwentyComeOrderedById) {
  std::vector<Drawn> drawn;
  for (int id = 19; id >= 0; --id) drawn.push_back({id, 120.0 + 200 * (id % 5), 120.0 + 200 * (id / 5), 90, 7.0 * id});
  const MarkerSearch search = find_markers(picture(drawn, 1100, 900));
  ASSERT_EQ(search.markers.size(), 20U);
  for (int id = 0; id < 20; ++id) {
    EXPECT_EQ(search.markers[id].id, id);
    EXPECT_LT(worst_px(search.markers[id], drawn[19 - id]), 0.08);
  }
}

TEST(Markers, TurningThePhotoByAQuarterTurnsTheCorners) {
  const cv::Mat upright = picture({{8, 250.4, 330.1, 110, 20}});
  cv::Mat turned;
  cv::rotate(upright, turned, cv::ROTATE_90_CLOCKWISE);
  const Marker a = find_markers(upright).markers.at(0), b = find_markers(turned).markers.at(0);
  for (int i = 0; i < 4; ++i) {
    EXPECT_NEAR(b.corners[i].x, upright.rows - 1 - a.corners[i].y, 0.02);
    EXPECT_NEAR(b.corners[i].y, a.corners[i].x, 0.02);
  }
}

TEST(Markers, ThePictureIsLeftAlone) {
  const cv::Mat bgr = picture({{8}}), before = bgr.clone();
  find_markers(bgr);
  EXPECT_EQ(cv::norm(bgr, before, cv::NORM_INF), 0.0);
}

}  // namespace
}  // namespace sheetloupe
