// A small drawn photo of a sheet on a table, without strips: known corners, a table of any colour, a shadow, a border
// of resin. Nothing of the measuring code is used.
#pragma once

#include <array>
#include <cstdint>
#include <opencv2/core.hpp>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

struct TablePhoto {
  cv::Size size{1600, 1200};
  double px_per_mm = 6.0;
  double turn_deg = 6.0;   // of the sheet's top side from the photo's +x, clockwise as seen
  double keystone = 0.05;  // how much shorter the far side looks, share
  double width_mm = 170.0, height_mm = 120.0;
  bool sheet = true;                   // else the table alone
  cv::Vec3d table_bgr{120, 160, 190};  // in full light
  double grain = 0.08;                 // sigma of the table's streaks, share of its brightness
  double shadow = 0.0;                 // share of light lost beside the right and bottom sides
  double flash_mm = 0.0;               // width of the resin border outside the cloth, part of the sheet
  double ragged_cloth_mm = 0.0;        // how far single tows end short of the cloth's border, at most
  double ragged_mm = 0.0;              // amplitude of the wavy resin border
  cv::Vec3d flash_bgr{70, 105, 115};
  double blur_px = 0.8, noise = 2.0;
  std::uint64_t seed = 1;
};

struct DrawnPhoto {
  cv::Mat bgr;                           // CV_8UC3
  std::array<ImagePoint, 4> corners_px;  // clockwise, the first by the datum rule for turns below 45 degrees
};

DrawnPhoto draw_table_photo(const TablePhoto& wanted);

}  // namespace sheetloupe
