// A photo at the size of a screen.
#pragma once

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

namespace sheetloupe::paper {

/// How many photo px in a row make one of the picture, a whole number. The longer side comes to 1300 to 3000 px, 2000
/// of the usual 4000.
inline int whole_shrink(const cv::Size& photo) {
  return std::max(1, static_cast<int>(std::lround(std::max(photo.width, photo.height) / 2000.0)));
}

}  // namespace sheetloupe::paper
