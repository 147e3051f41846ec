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
  std::array<bool, 4> resin{};           // of each side, clockwise from the first corner: resin lies beyond the weave
  std::array<double, 4> side_sd_px{};    // of the ends of each side's line by its own scatter, 1 sigma
};

/// `bgr` CV_8UC3 photo frame. `table`: a map onto the face plane in an arbitrary frame, when strips gave one.
/// `datum_strip`: "top": "strip-k" of sheet.json, the side beside strip k is the top side.
Outline find_outline(const cv::Mat& bgr, const std::vector<Marker>& markers, const SheetMap* table, Mm thickness,
                     std::optional<int> datum_strip = {});

/// The same sides looked at once more, now that `face`, a map onto the face plane, is known: `first`, found without
/// one, took the photo itself for the plane, its sides for straight there, and could not tell a wall from the face.
/// What lies beyond the weave, resin or table, stays as `first` saw it: the map tells nothing new of that.
Outline find_outline_again(const cv::Mat& bgr, const Outline& first, const std::vector<Marker>& markers,
                           const SheetMap& face, Mm thickness, std::optional<int> datum_strip = {});

}  // namespace sheetloupe
