// HEIC decoding through libheif, which applies the file's own rotation and mirroring.
#pragma once

#include <filesystem>
#include <opencv2/core.hpp>
#include <string>
#include <string_view>

namespace sheetloupe {

struct HeicPicture {
  cv::Mat bgr;                  // CV_8UC3, upright already
  std::string exif;             // bare EXIF block, may be empty
  bool turned_quarter = false;  // the file's own rotation swapped width and height
};

/// Throws InputError naming `path`; `max_megapixels` is checked before decoding.
HeicPicture decode_heic(std::string_view bytes, const std::filesystem::path& path, double max_megapixels);

}  // namespace sheetloupe
