// Fields on grids of nodes: made coarser after a filter that keeps what lies above the grid out, and finer by cubics.
#pragma once

#include <opencv2/core.hpp>

namespace sheetloupe::weave {

/// Every two nodes of an even grid become one, weighted 1 3 3 1 along rows and columns: a carrier one tow away, near
/// the new grid's own frequency, is held to 1 in 1000 where a plain sum would let 1 in 20 fold onto the signal.
cv::Mat2f halved(const cv::Mat2f& fine);

/// Variance of those weights, in fine nodes squared.
constexpr double kHalvingVariance = 0.75;

/// Values between nodes by cubics through the nodes (Keys 1981, a = -1/2); node (r, c) lies at ((c, r) + 0.5)
/// `from_mm`, the wanted ones at ((c, r) + 0.5) `to_mm`. Beyond the outermost nodes their values hold.
cv::Mat1f sampled(const cv::Mat1f& nodes, double from_mm, const cv::Size& size, double to_mm);

}  // namespace sheetloupe::weave
