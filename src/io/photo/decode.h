// Pixels from a photo's bytes, whatever its format.
#pragma once

#include <opencv2/core.hpp>
#include <string_view>

namespace sheetloupe {

/// CV_8UC3, BGR, as stored (not turned), transparency left out. Empty: damaged. Throws std::domain_error with words for
/// what was found when a TIFF's pixels are of a kind that no camera writes (signed or broken numbers).
cv::Mat decode_png(std::string_view bytes);
cv::Mat decode_tiff(std::string_view bytes);

}  // namespace sheetloupe
