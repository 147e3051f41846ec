// A drawer of cut-edge photos with exact truth: a woven laminate sawn through, photographed before a card or a bench.
// Used by tests, the demo and training; shares nothing with the code that reads edges.
#pragma once

#include <array>
#include <cstdint>
#include <opencv2/core.hpp>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/weave.h"

namespace sheetloupe {

enum class EdgeLevel { easy, medium, hard };
enum class EdgeGround { white, grey, dark, wood, blue };

/// A flattened dark spot, a dent in a face or a smeared patch; `along` and `across` are shares of length and height.
struct EdgeBlot {
  double along = 0.5, across = 0.5;
  double half_length_px = 10.0, half_height_px = 4.0;
};

/// A crack in the interface under ply `below_ply`, dark, from one share of the length to another.
struct EdgeCrack {
  int below_ply = 1;
  double from = 0.3, to = 0.5;
  double opening_px = 3.0;
};

/// Everything that the picture is drawn from. Lengths in px of the finished photo unless said otherwise.
struct EdgeScene {
  cv::Size size{1600, 1200};
  int plies = 10;
  double ply_px = 24.0;  // mean height of a ply
  double pitch_px = 110.0;
  WeavePattern weave = WeavePattern::twill_2x2;
  double gap_cv = 0.05;        // ply heights differ by this share
  double waviness = 0.08;      // of interfaces, share of a ply
  double nesting = 0.3;        // share of the waviness that neighbours have in common
  double cut_angle = 0.02;     // slope of the cut to the long yarns: it passes from yarn to yarn
  double taper = 0.0;          // (right - left) / mean height
  double bow_px = 0.0;         // the faces' common curve over the picture
  double tilt_deg = 0.0;       // of the band in the picture
  double centre = 0.5;         // of the band, share of the picture's height
  double one_end = 0.0;        // share of the length beyond which the sheet has ended; below 0 at the left, 0 no end
  double face_rough_px = 0.7;  // of the outer lines
  // Look, linear light with the long yarns' mean as unit.
  double tow_end = 1.3;       // brightness of tow ends
  double resin = 0.6;         // brightness of resin lines; above 1 they are bright
  double resin_width = 0.09;  // share of a ply
  double resin_gone = 0.1;    // share of the length over which a line vanishes
  double grain = 0.2, streak = 0.12, tone = 0.08;
  double light = 0.12;  // the long yarns' reflectance, [0, 1]
  std::array<double, 3> tint{1, 1, 1};
  EdgeGround ground = EdgeGround::white;
  double shadow = 0.4;   // below the sheet, [0, 1]
  double face_px = 0.0;  // height of the top face where it is seen too; 0 when only the cut shows
  double face_light = 0.8;
  bool face_rim = false;    // a bright broken line where face and cut meet
  bool face_below = false;  // the bottom face is the one seen
  int saw = 0;              // 0 none, 1 across, 2 arcs, 3 along
  double saw_depth = 0.1;
  std::vector<EdgeBlot> voids, chips, smears;
  std::vector<EdgeCrack> cracks;
  // Camera.
  double blur_px = 0.8, motion_px = 0.0, noise = 2.0, sharpen = 0.3, vignette = 0.2, exposure = 1.0;
  std::uint64_t seed = 1;
};

/// A random scene; the same for the same seed on every machine. `least_ply_px` to `most_ply_px` bound the ply height.
EdgeScene random_edge_scene(EdgeLevel level, double least_ply_px, double most_ply_px, std::uint64_t seed);

struct EdgePhoto {
  cv::Mat bgr;                                      // CV_8UC3
  std::vector<std::vector<ImagePoint>> interfaces;  // plies + 1 lines, left to right: top face first
  double band_px = 0.0;                             // mean height square to the edge, the visible face left out
  std::vector<std::array<double, 2>> height_px;     // [x in the photo, height]
};

EdgePhoto render_edge_photo(const EdgeScene& scene);

}  // namespace sheetloupe
