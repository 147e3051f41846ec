#include "outline/band.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/median.h"

namespace sheetloupe::outline {
namespace {

// Gradient across the side in all colours, turned into [0, 1] by what sound table shows (rows far outside): an edge
// four times above that is certain.
void measure_edges(const cv::Mat& picture, Band& band) {
  cv::Mat blurred, gradient, squares, sum;
  cv::GaussianBlur(picture, blurred, {1, 0}, 0.8, 1.0);
  cv::Mat kernel = (cv::Mat_<float>(5, 1) << -0.5F, -1.F, 0.F, 1.F, 0.5F);
  cv::filter2D(blurred, gradient, CV_32F, kernel / 3.F);
  cv::multiply(gradient, gradient, squares);
  cv::transform(squares, sum, cv::Matx13f(1, 1, 1));
  cv::sqrt(sum, sum);
  std::vector<double> quiet;
  for (int row = sum.rows - 30; row < sum.rows - 4; ++row) {
    for (int c = 0; c < sum.cols; c += 3) {
      if (band.paper.at<unsigned char>(row, c) == 0) quiet.push_back(sum.at<float>(row, c));
    }
  }
  const double cap = std::max(4.0 * median(quiet), 3.0);  // 3 grey levels a row: sensor noise alone stays below
  cv::min(sum / cap, 1.0, band.edge);
  band.gradient = sum;
}

// A shadow darkens and hardly changes the colour ratios; another material changes them.
void measure_colours(const cv::Mat& picture, Band& band) {
  cv::Mat logs;
  cv::log(picture + cv::Scalar::all(8.0), logs);  // the offset keeps dark pixels' noise small
  cv::transform(logs, band.colours, cv::Matx33f(0, 1, 0, 0, -1, 1, 1, -1, 0));
  cv::GaussianBlur(band.colours, band.colours, {0, 1}, 2.0, 0.1);
}

// `picture`: the band as the photo shows it, CV_8UC3.
Band cut(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
         const Reach& reach, cv::Mat& picture) {
  Band band;
  band.inner = reach.inner;
  band.step = reach.step;
  const cv::Point2d side = b - a;
  const double length = cv::norm(side);
  const cv::Point2d direction = side / length;
  band.outward = {direction.y, -direction.x};  // clockwise walk, y down: outside is to the left
  band.start = a + side * kSkipEnds;
  band.along = side * ((1.0 - 2 * kSkipEnds) / (kColumns - 1));
  const int rows = static_cast<int>((reach.outer - band.inner) / band.step) + 1;
  // The map is smooth: evaluated on every eighth row and column and interpolated.
  constexpr int kEvery = 8;
  const cv::Size coarse((kColumns + kEvery - 1) / kEvery + 1, (rows + kEvery - 1) / kEvery + 1);
  cv::Mat2f places(coarse);
  for (int r = 0; r < coarse.height; ++r) {
    for (int c = 0; c < coarse.width; ++c) {
      const cv::Point2d p =
          plane.image_from_plane(band.start + band.along * (c * kEvery) + band.outward * band.offset_of(r * kEvery));
      places(r, c) = cv::Vec2f(static_cast<float>(p.x), static_cast<float>(p.y));
    }
  }
  cv::Mat2f full(rows, kColumns);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < kColumns; ++c) {
      const float v = static_cast<float>(r) / kEvery, u = static_cast<float>(c) / kEvery;
      const int i = static_cast<int>(v), j = static_cast<int>(u);
      const float fv = v - static_cast<float>(i), fu = u - static_cast<float>(j);
      full(r, c) = (1 - fv) * ((1 - fu) * places(i, j) + fu * places(i, j + 1)) +
                   fv * ((1 - fu) * places(i + 1, j) + fu * places(i + 1, j + 1));
    }
  }
  cv::Mat grey;
  cv::remap(bgr, picture, full, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::cvtColor(picture, grey, cv::COLOR_BGR2GRAY);
  grey.convertTo(band.log_grey, CV_32F, 1.0, 8.0);
  cv::log(band.log_grey, band.log_grey);
  cv::remap(strips, band.paper, full, cv::noArray(), cv::INTER_NEAREST, cv::BORDER_CONSTANT);
  return band;
}

}  // namespace

Band cut_grey_band(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
                   const Reach& reach) {
  cv::Mat picture;
  return cut(bgr, strips, plane, a, b, reach, picture);
}

Band cut_band(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
              const Reach& reach) {
  cv::Mat picture;
  Band band = cut(bgr, strips, plane, a, b, reach, picture);
  picture.convertTo(picture, CV_32F);
  measure_edges(picture, band);
  measure_colours(picture, band);
  band.edge.setTo(0, band.paper);
  band.gradient.setTo(0, band.paper);
  return band;
}

}  // namespace sheetloupe::outline
