// One side of the sheet: from a coarse line to the face's edge.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "outline/plane.h"

namespace sheetloupe::outline {

/// A band of the photo along a coarse side, straightened: column u runs along the side, row v from inside to outside.
struct Band {
  cv::Mat log_grey;                   // CV_32F, natural logarithm of brightness
  cv::Mat edge;                       // CV_32F, [0, 1]: how much of an edge across the band lies here
  cv::Mat gradient;                   // CV_32F, grey levels a row, not limited
  cv::Mat paper;                      // CV_8U, 255 on a strip
  cv::Point2d start, along, outward;  // plane units; `along` is one column
  double step = 0.1;                  // plane units a row
  double inner = -12.0;               // plane offset of row 0 from the coarse line
  double offset_of(double row) const { return inner + row * step; }
  double row_of(double offset) const { return (offset - inner) / step; }
};

struct SideEdge {
  bool found = false;
  bool rough = false;               // a wavy resin edge rather than a trimmed one
  std::vector<cv::Point2d> points;  // edge points, plane units, along the side
  cv::Point2d at, along;            // the robust straight line through them
  double scatter = 0.0;             // of the points about the line, plane units
  std::vector<cv::Point2d> cloth;   // where the weave ends, plane units
};

/// `a` to `b`: the side walked clockwise as seen, plane units; `coarse`: good to a few mm only, so a wide look comes
/// first. `thickness`: for the wall's foot. `strips`: CV_8UC1, photo frame, 255 where printed paper lies: no edge of
/// the sheet is looked for there.
SideEdge find_side(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
                   Mm thickness);

}  // namespace sheetloupe::outline
