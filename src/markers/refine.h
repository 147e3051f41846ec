// A marker's corners from straight lines fitted to its four sides.
#pragma once

#include <opencv2/core.hpp>

#include "sheetloupe/markers.h"

namespace sheetloupe::markers {

/// `grey`: CV_8UC1. Moves `marker.corners` and fills `side_scatter_px`; false when a side cannot be fitted (hidden,
/// blown out, outside the picture), then the marker is not to be used.
bool refine(const cv::Mat& grey, Marker& marker, const MarkerOptions& options);

}  // namespace sheetloupe::markers
