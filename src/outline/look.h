// How every small cell of the photo looks, and how likely it is sheet rather than table.
#pragma once

#include <opencv2/core.hpp>

namespace sheetloupe::outline {

inline constexpr int kFeatures = 4;
using Look = cv::Vec<float, kFeatures>;

/// Brightness, two colour ratios and roughness, all on the logarithmic scale, so that a shadow shifts the first and
/// leaves the others. CV_32FC4, one value a cell; a cell is `cell_px` photo px wide.
struct LookMap {
  cv::Mat_<Look> cells;
  double cell_px = 1.0;
};

LookMap look_at(const cv::Mat& bgr);

/// One thing's looks as a normal distribution.
struct LookModel {
  Look mean;
  cv::Matx<float, kFeatures, kFeatures> inverse;
  float log_scale = 0.0F;  // half the logarithm of the covariance's determinant
  bool usable = false;     // too few cells to tell otherwise
};

/// From the cells where `mask` (CV_8U) is set; the farthest are left out. `shade` widens brightness: the same thing in
/// shadow (natural logarithm, one sigma).
LookModel model_of(const LookMap& look, const cv::Mat& mask, float shade);

/// Squared distance of every cell from a model in its own sigmas, CV_32F.
cv::Mat1f squared_distance(const LookMap& look, const LookModel& model);

}  // namespace sheetloupe::outline
