// The face laid flat: a picture in which one pixel is the same number of millimetres everywhere.
#pragma once

#include <opencv2/core.hpp>

#include "sheetloupe/geometry.h"
#include "sheetloupe/outline.h"
#include "sheetloupe/photo.h"
#include "sheetloupe/scale.h"

namespace sheetloupe {

struct RectifyOptions {
  double mm_per_px = 0.1;           // working scale, [0.02, 1]
  double max_megapixels = 16.0;     // the scale is coarsened to stay below this
  cv::Vec3d blown = kBlownUsually;  // see blown_levels; inspect_sheet takes what the photo shows
};

/// Pixel (r, c) covers sheet mm origin + mm_per_px * [c, c+1] x [r, r+1]; so its centre lies half a pixel further.
struct RectifiedSheet {
  cv::Mat bgr;    // CV_8UC3, sheet frame
  cv::Mat cloth;  // CV_8UC1, sheet frame, 255 = woven cloth, 0 = flash, border or outside
  cv::Mat glare;  // CV_8UC1, sheet frame, 255 = blown out in the photo
  double mm_per_px = 0.1;
  SheetPoint origin;             // outer corner of pixel (0, 0)
  double photo_mm_per_px = 0.1;  // the photo's own coarsest scale on the face
  double blur_sigma_px = 0.0;    // of the photo, photo px; 0 when unknown
  double length_u95 = 0.0;       // 95 % half width of a length's relative error by the scale

  SheetPoint sheet_from_pixel(double column, double row) const {
    return {origin.x + (column + 0.5) * mm_per_px, origin.y + (row + 0.5) * mm_per_px};
  }
};

RectifiedSheet rectify(const Photo& photo, const SheetMap& map, const Outline& outline,
                       const RectifyOptions& options = {});

}  // namespace sheetloupe
