// The only file pair that knows which marker interface this OpenCV has: it changed with 4.7.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <vector>

namespace sheetloupe::markers {

struct RawMarker {
  int id = 0;
  std::array<cv::Point2f, 4> corners;  // as printed: top-left, top-right, bottom-right, bottom-left; a pixel or so off
};

/// All markers of DICT_4X4_50 in a grey picture (CV_8UC1) with sides of at least `least_side_px`, corners not refined.
/// Work grows with the square of the number of small dark shapes that are let in.
std::vector<RawMarker> detect_raw(const cv::Mat& grey, double least_side_px);

}  // namespace sheetloupe::markers
