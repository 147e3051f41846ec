// Finds the printed strips' square markers and their corners to a few hundredths of a pixel.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

/// The strips as printed (contract, section 2). Strip k carries ids 5k .. 5k+4 from left to right.
inline constexpr int kStripCount = 4;
inline constexpr int kMarkersPerStrip = 5;
inline constexpr double kStripLengthMm = 250.0;
inline constexpr double kStripWidthMm = 30.0;
inline constexpr double kMarkerSideMm = 20.0;
inline constexpr std::array<double, 5> kMarkerCentresMm = {25.0, 75.0, 125.0, 175.0, 225.0};
inline constexpr double kStripBarMm = 140.0;

struct Marker {
  int id = 0;                         // 0 .. 19
  std::array<ImagePoint, 4> corners;  // top-left, top-right, bottom-right, bottom-left as printed
  double side_scatter_px = 0.0;       // rms of the edge positions about the four fitted sides
};

struct MarkerOptions {
  double profile_half_px = 5.0;  // how far each side's edge is looked for, px, [2, 20]
  int rounds = 2;                // refinement rounds, [1, 5]
  bool close_up = false;         // markers are a tenth of the picture or more: one look at a small picture is enough
};

struct MarkerSearch {
  std::vector<Marker> markers;      // ids 0 .. 19, each once, ordered by id
  std::vector<int> duplicated_ids;  // seen twice: all copies dropped
};

/// `bgr`: CV_8UC3, photo frame. Corners by a line fit to each side, which the library's own refinement biases.
MarkerSearch find_markers(const cv::Mat& bgr, const MarkerOptions& options = {});

/// Level of the white paper around the marker on which it is brightest, B, G, R, [0, 255]; none without markers. `bgr`:
/// CV_8UC3, the picture in which they were found.
std::optional<cv::Vec3d> paper_level(const cv::Mat& bgr, const std::vector<Marker>& markers);

/// The 6 x 6 cells of a printed marker, black border included: CV_8UC1, 0 = black, 255 = white. `id` 0 .. 49.
cv::Mat marker_bits(int id);

}  // namespace sheetloupe
