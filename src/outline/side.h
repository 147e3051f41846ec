// One side of the sheet: from a coarse line to the face's edge.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "outline/plane.h"

namespace sheetloupe::outline {

struct SideEdge {
  bool found = false;
  bool rough = false;               // a wavy resin edge rather than a trimmed one
  bool resin = false;               // the edge is the end of resin that reaches beyond the weave
  std::vector<cv::Point2d> points;  // edge points, plane units, along the side
  cv::Point2d at, along;            // the robust straight line through them
  double scatter = 0.0;             // of the points about the line, plane units
  double end_sd = 0.0;              // of the line's place at the side's ends, plane units
  std::vector<cv::Point2d> cloth;   // where the weave ends, plane units
};

/// `a` to `b`: the side walked clockwise as seen, plane units; `coarse`: good to a few mm only, so a wide look comes
/// first. `thickness`: for the wall's foot. `strips`: CV_8UC1, photo frame, 255 where printed paper lies: no edge of
/// the sheet is looked for there. `resin`: whether resin lies beyond the weave, when that is known already.
SideEdge find_side(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
                   Mm thickness, std::optional<bool> resin = {});

}  // namespace sheetloupe::outline
