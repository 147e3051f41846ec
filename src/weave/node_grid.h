// Fields on grids of nodes, made finer by cubics.
#pragma once

#include <opencv2/core.hpp>

namespace sheetloupe::weave {

/// Values between nodes by cubics through the nodes (Keys 1981, a = -1/2); node (r, c) lies at ((c, r) + 0.5)
/// `from_mm`, the wanted ones at ((c, r) + 0.5) `to_mm`. Beyond the outermost nodes their values hold.
cv::Mat1f sampled(const cv::Mat1f& nodes, double from_mm, const cv::Size& size, double to_mm);

}  // namespace sheetloupe::weave
