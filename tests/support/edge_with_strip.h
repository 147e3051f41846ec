// A cut edge with a printed strip flush below it, as one plane seen by a camera, from exact truth.
#pragma once

#include <opencv2/core.hpp>

namespace sheetloupe {

struct EdgeWithStrip {
  double px_per_mm = 20.0;            // of the plane before the camera
  double print = 1.0;                 // paper mm a nominal mm
  double starts_mm = 55.0;            // nominal place on the strip at the picture's left end
  double gap_mm = 6.0;                // between the sheet and the strip
  double tilt_x = 0.0, tilt_y = 0.0;  // how much larger the right and the lower side are seen, share
  int plies = 8;
  double ply_px = 26.0;
};

struct EdgeWithStripPhoto {
  cv::Mat bgr;
  double thickness_mm = 0.0;
};

EdgeWithStripPhoto draw_edge_with_strip(const EdgeWithStrip& scene);

}  // namespace sheetloupe
