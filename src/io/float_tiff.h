// A map of numbers as a TIFF file that measuring programs open.
#pragma once

#include <opencv2/core.hpp>
#include <string>

namespace sheetloupe {

/// One channel of 32-bit floating point numbers, not packed, one strip, little-endian (TIFF 6.0, sections 2 and 19).
std::string float_tiff(const cv::Mat1f& map);

}  // namespace sheetloupe
