// The sheet's own typical look at every place of the weave's repeat, and what departs from it.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <utility>
#include <vector>

#include "sheetloupe/rectify.h"
#include "sheetloupe/weave.h"

namespace sheetloupe::defects {

/// A tow count at every pixel of the flat picture: the phase field's nodes, linear between them and beyond the
/// outermost. Worked out where it is asked for, since as a picture it would take more memory than the photo.
class TowCounts {
 public:
  TowCounts() = default;
  TowCounts(const cv::Mat& field, const WeavePhase& phase, const RectifiedSheet& sheet);

  void row(int r, float* to) const;
  cv::Mat1f rows(const cv::Range& range) const;
  float at(cv::Point px) const;

 private:
  // The node before each row or column, and how far that lies on the way to the next.
  struct Places {
    std::vector<int> node;
    std::vector<float> share;
  };
  cv::Mat1f nodes_;
  Places rows_, columns_;
};

/// One flat picture locked to the weave; all maps CV_32F / CV_8U of the picture's size.
struct Locked {
  cv::Mat1b grey;
  cv::Mat1f residual;  // log light less the reference at this place of the repeat; 0 where not judged
  cv::Mat1f unusual;   // residual in units of what this sheet scatters at this place of the repeat, [-8, 8]
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
