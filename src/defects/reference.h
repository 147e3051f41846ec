// The sheet's own typical look at every place of the weave's repeat, and what departs from it.
#pragma once

#include <array>
#include <opencv2/core.hpp>

#include "defects/tow_counts.h"
#include "sheetloupe/rectify.h"
#include "sheetloupe/weave.h"

namespace sheetloupe::defects {

/// One flat picture locked to the weave; all maps CV_32F / CV_8U of the picture's size but the two halved ones.
struct Locked {
  cv::Mat1b grey;
  cv::Mat1f residual;  // log light less the reference at this place of the repeat; 0 where not judged
  cv::Mat1f unusual;   // residual in units of what this sheet scatters at this place of the repeat, [-8, 8]
  cv::Mat1f half_light, half_residual;  // log light and residual at half the size, for a look around
  TowCounts warp, weft;
  cv::Mat1b judged;                       // 255 where cloth is seen and the phase is known
  cv::Mat1b warp_on_top;                  // 255 where the warp tow covers the weft
  double tow_mm = 2.0;                    // mean tow spacing
  std::array<float, 256> log_of_level{};  // natural logarithm of a grey level + 8

  float log_light(int r, int c) const { return log_of_level[grey(r, c)]; }
  float log_light(cv::Point px) const { return log_of_level[grey(px)]; }
  /// The same of some rows.
  cv::Mat1f log_light(const cv::Range& rows) const;
};

Locked lock(const RectifiedSheet& sheet, const WeaveAnalysis& weave);

}  // namespace sheetloupe::defects
