// A first rough look for the band, in a shrunken photo.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "plies/line_fit.h"

namespace sheetloupe::plies {

struct CoarseBand {
  StraightLine top, bottom;  // px of the shrunken photo
  int from = 0, to = 0;      // its columns
};

struct CoarseBands {
  double scale = 1.0;             // px of the photo in one of the shrunken
  std::vector<CoarseBand> bands;  // what the cues show, none twice
};

/// `bgr`: CV_8UC3, photo frame. Bands stand out of the ground by colour, by texture across the edge, or by both.
CoarseBands find_coarse_bands(const cv::Mat& bgr);

}  // namespace sheetloupe::plies
