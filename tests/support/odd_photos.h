// Photo files byte by byte, for what an encoder will not write on request.
#pragma once

#include <cstdint>
#include <opencv2/core.hpp>
#include <string>

namespace sheetloupe {

/// No two corners alike: red top-left, green top-right, blue bottom-left, white bottom-right; 120 x 80, BGR.
cv::Mat upright();

/// `picture` as a file's bytes; `ending`: ".jpg", ".png", ".tif".
std::string encoded(const std::string& ending, const cv::Mat& picture);

/// A baseline TIFF (TIFF 6.0, sections 2 to 6), little-endian, one uncompressed strip. `picture`: CV_8UC3, BGR.
std::string tiff_file(const cv::Mat& picture, int orientation);

/// One channel of signed 32-bit whole numbers: a valid TIFF that no camera writes.
std::string tiff_of_signed_numbers(int width, int height);

/// The bare TIFF block of an EXIF record with one entry, the orientation (Exif 2.32, tag 274).
std::string exif_block(int orientation);

/// `file` with an EXIF record put in: APP1 after a JPEG's first marker, eXIf after a PNG's header chunk.
std::string jpeg_with_exif(const std::string& file, const std::string& block);
std::string png_with_exif(const std::string& file, const std::string& block);

/// `file` with `payload` in an APP2 segment, where phones keep previews. `payload` under 64 KiB.
std::string jpeg_with_app2(const std::string& file, const std::string& payload);

/// How a camera stores `upright` under `orientation`, from the standard's own words (Exif 2.32, table of tag 274):
/// which visual side the stored first row and first column are.
cv::Mat stored_under(const cv::Mat& upright, int orientation);

}  // namespace sheetloupe
