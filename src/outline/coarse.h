// Where the sheet roughly is: four corners good to a few millimetres, shadow and side wall perhaps included.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "sheetloupe/markers.h"

namespace sheetloupe::outline {

struct Coarse {
  std::optional<std::array<cv::Point2d, 4>> corners;  // photo px, clockwise as seen
  std::string reason;
};

/// The four corners of each printed strip that shows at least two markers, photo px.
std::vector<std::array<cv::Point2d, 4>> strip_quads(const std::vector<Marker>& markers);

Coarse find_coarse(const cv::Mat& bgr, const std::vector<Marker>& markers);

}  // namespace sheetloupe::outline
