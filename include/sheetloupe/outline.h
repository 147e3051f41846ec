// The four sides of the sheet's hard outline to sub-pixel, and the cloth inside it.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/markers.h"
#include "sheetloupe/scale.h"

namespace sheetloupe {

struct Outline {
  bool found = false;
  std::string reason;                    // why not, with what to do; empty when found
  std::array<ImagePoint, 4> corners_px;  // top FACE corners, clockwise; the first is the datum corner
  std::vector<ImagePoint> polygon_px;    // the hard outline, clockwise, a few hundred points
  std::vector<ImagePoint> cloth_px;      // where woven cloth is seen: inside flash and the fibre-free border
  double corner_u95_px = 0.0;            // of each corner
  bool rough = false;                    // ragged resin flash rather than a trimmed side
};

/// `bgr` CV_8UC3 photo frame. `table`: a map onto the face plane in an arbitrary frame, when strips gave one.
/// `datum_strip`: "top": "strip-k" of sheet.json, the side beside strip k is the top side.
Outline find_outline(const cv::Mat& bgr, const std::vector<Marker>& markers, const SheetMap* table, Mm thickness,
                     std::optional<int> datum_strip = {});

}  // namespace sheetloupe
