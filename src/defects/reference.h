// The sheet's own typical look at every place of the weave's repeat, and what departs from it.
#pragma once

#include <opencv2/core.hpp>

#include "sheetloupe/rectify.h"
#include "sheetloupe/weave.h"

namespace sheetloupe::defects {

/// One flat picture locked to the weave; all maps CV_32F / CV_8U of the picture's size.
struct Locked {
  cv::Mat1f log_light;    // natural logarithm of brightness + 8 grey levels
  cv::Mat1f residual;     // log_light less the reference at this place of the repeat; 0 where not judged
  cv::Mat1f unusual;      // residual in units of what this sheet scatters at this place of the repeat, [-8, 8]
  cv::Mat1f warp, weft;   // tow counts
  cv::Mat1b judged;       // 255 where cloth is seen and the phase is known
  cv::Mat1b warp_on_top;  // 255 where the warp tow covers the weft
  double tow_mm = 2.0;    // mean tow spacing
};

Locked lock(const RectifiedSheet& sheet, const WeaveAnalysis& weave);

/// A phase field (step_mm grid) brought to every pixel of the flat picture, linear beyond its border nodes.
cv::Mat1f per_pixel(const cv::Mat& field, const WeavePhase& phase, const RectifiedSheet& sheet);

}  // namespace sheetloupe::defects
