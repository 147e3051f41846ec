// Lines through places of which some are wrong.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "plies/band.h"

namespace sheetloupe::plies {

struct StraightLine {
  double slope = 0.0, offset = 0.0;
  double at(double x) const { return offset + slope * x; }
};

/// Median slope through pairs of places (Theil 1950, Sen 1968), with the median offset. Level when fewer than two.
StraightLine theil_sen(const std::vector<cv::Point2d>& places);

/// The line's own places.
std::vector<cv::Point2d> sampled(const FaceLine& line);

/// Fills `line` from border places: a robust curve of second order, then what nearby places agree on beside it.
/// `blocks`: how many places there could have been; the line keeps its first_x and step.
void fit_face_line(const std::vector<cv::Point2d>& places, int blocks, FaceLine& line);

}  // namespace sheetloupe::plies
