// Which tow lies under a pixel: the weave's phase fields, brought to the flat picture.
#pragma once

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
  /// The least and the most in the picture or more: being linear between nodes, it has them at nodes or at its border.
  std::pair<float, float> range() const;

 private:
  // The node before each row or column, and how far that lies on the way to the next.
  struct Places {
    std::vector<int> node;
    std::vector<float> share;
  };
  cv::Mat1f nodes_;
  Places rows_, columns_;
};

}  // namespace sheetloupe::defects
