// JPEG by libjpeg itself: the picture library's own front to it loads a hundred libraries at every start.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <string_view>

namespace sheetloupe {

/// CV_8UC3, BGR, as stored (not turned). Empty: damaged, or of a kind that the library cannot read.
cv::Mat decode_jpeg(std::string_view bytes);

/// `picture`: CV_8UC3, BGR. `quality`: 1 to 100.
std::string jpeg_bytes(const cv::Mat& picture, int quality);

}  // namespace sheetloupe
