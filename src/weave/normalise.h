// The picture the weave is read from: light and shade taken out, glare and what is not cloth left at zero.
#pragma once

#include <opencv2/core.hpp>

#include "sheetloupe/rectify.h"

namespace sheetloupe::weave {

/// Working picture at about 0.25 mm a pixel.
struct Normalised {
  cv::Mat1f z;     // local contrast in units of its own local scatter, within +-3, 0 outside the cloth
  cv::Mat1f seen;  // 1 where cloth is seen, 0 where not
  double mm_per_px = 0.25;
  SheetPoint origin;  // outer corner of pixel (0, 0)
};

Normalised normalise(const RectifiedSheet& sheet, double mm_per_px);

/// The same picture on a coarser raster, area by area; `mm_per_px` at least the picture's own.
Normalised coarser(const Normalised& picture, double mm_per_px);

/// Gaussian mean over the seen part only (normalised convolution); 0 where nothing is near.
cv::Mat1f mean_of_seen(const cv::Mat1f& values, const cv::Mat1f& seen, double sigma_px);

}  // namespace sheetloupe::weave
