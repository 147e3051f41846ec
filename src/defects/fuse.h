// What several photos of one face say together, the lamp moved between them.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "defects/areas.h"
#include "defects/cues.h"
#include "defects/pinholes.h"

namespace sheetloupe::defects {

/// What one photo shows; all photos on the same raster.
struct PhotoView {
  double tow_mm = 2.0;  // mean tow spacing
  cv::Mat1b judged;     // px, 255 where cloth is seen
  Cues cues;            // nodes
  cv::Mat1b cover;      // nodes, 255 where something lies on the sheet
  PinholeSearch pinholes;
};

/// Pixels that at least one photo judges.
cv::Mat1b judged_anywhere(const std::vector<PhotoView>& views);

/// Nodes that no photo shows free although at least one shows them covered.
cv::Mat1b covered_everywhere(const std::vector<PhotoView>& views);

/// A hole is found where the mean of the photos' scores reaches the threshold. A photo that judges the place and finds
/// nothing there counts with the least score it would have reported; one that does not judge it does not count.
PinholeSearch fuse_pinholes(const std::vector<PhotoView>& views, double mm_per_px);

}  // namespace sheetloupe::defects
