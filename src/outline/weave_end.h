// Where the weave ends, told by its roughness alone.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <utility>
#include <vector>

#include "outline/band.h"

namespace sheetloupe::outline {

/// How rough the picture is along the side, on the logarithmic scale, CV_32F: high on the weave, low on table, shadow
/// and wall; 0 near printed paper.
cv::Mat detail_of(const Band& band);

/// Mean roughness of each row of some columns, smoothed over five rows.
std::vector<double> roughness(const cv::Mat& detail);

/// The outermost row that is still as rough as half way between table and weave; -1 when the two do not differ.
int weave_end(const std::vector<double>& rough);

/// The line along which the weave ends, over the whole side, plane units. None when most places see no end.
std::optional<std::pair<cv::Point2d, cv::Point2d>> weave_end_line(const Band& band);

}  // namespace sheetloupe::outline
