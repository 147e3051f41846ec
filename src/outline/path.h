// Smooth paths along a band, and where exactly the edge beside them lies.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

namespace sheetloupe::outline {

struct Path {
  std::vector<int> rows;  // one a column
  double strength = 0.0;  // mean edge strength along it
};

/// The strongest smooth path between two rows of `edge` (CV_32F, [0, 1]).
Path strongest_path(const cv::Mat& edge, int from, int to);

/// The strongest smooth path within `slack` rows of another.
Path followed(const cv::Mat& edge, const Path& guide, int slack);

/// Scatter of a path about its own straight line, rows (robust).
double straightness(const Path& path);

double middle_row(const Path& path);

/// Sub-row place of the edge beside a path.
double refined_row(const cv::Mat& gradient, int row, int column);

}  // namespace sheetloupe::outline
