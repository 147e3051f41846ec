// A band of the photo along a coarse side, straightened.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "outline/plane.h"

namespace sheetloupe::outline {

inline constexpr int kColumns = 240;       // profiles along a side
inline constexpr double kSkipEnds = 0.05;  // of the side at each end: corners are rounded and chipped

// How far a pass looks to both sides of its line, and how finely, plane units.
struct Reach {
  double inner, outer, step;
};

/// Column u runs along the side, row v from inside to outside.
struct Band {
  cv::Mat log_grey;                   // CV_32F, natural logarithm of brightness
  cv::Mat3f colours;                  // logarithms of green, red over green, blue over green; smoothed along the side
  cv::Mat edge;                       // CV_32F, [0, 1]: how much of an edge across the band lies here
  cv::Mat gradient;                   // CV_32F, grey levels a row, not limited
  cv::Mat paper;                      // CV_8U, 255 on a strip
  cv::Point2d start, along, outward;  // plane units; `along` is one column
  double step = 0.1;                  // plane units a row
  double inner = -12.0;               // plane offset of row 0 from the coarse line
  double offset_of(double row) const { return inner + row * step; }
  double row_of(double offset) const { return (offset - inner) / step; }
};

/// `a` to `b`: the side walked clockwise as seen. `strips`: CV_8UC1, photo frame, 255 on printed paper.
Band cut_band(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
              const Reach& reach);

/// The same with brightness and paper alone: no colours, edge or gradient.
Band cut_grey_band(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
                   const Reach& reach);

}  // namespace sheetloupe::outline
