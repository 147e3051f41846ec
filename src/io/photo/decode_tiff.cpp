#include <opencv2/imgproc.hpp>
#include <stdexcept>

#include "io/photo/decode.h"
#include "io/tiff_memory.h"

namespace sheetloupe {

cv::Mat decode_tiff(std::string_view bytes) {
  if (bytes.empty()) return {};
  TiffMemory file{std::string(bytes)};
  TIFF* tiff = file.tiff();
  if (!tiff) return {};
  std::uint32_t width = 0, height = 0;
  std::uint16_t format = SAMPLEFORMAT_UINT, orientation = ORIENTATION_TOPLEFT;
  TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &format);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_ORIENTATION, &orientation);
  if (format == SAMPLEFORMAT_INT) throw std::domain_error("signed whole numbers");
  if (format == SAMPLEFORMAT_IEEEFP) throw std::domain_error("broken numbers");
  if (width == 0 || height == 0) return {};
  cv::Mat rgba(static_cast<int>(height), static_cast<int>(width), CV_8UC4), bgr;
  // Asked for as it is stored, the library turns nothing.
  if (!TIFFReadRGBAImageOriented(tiff, width, height, rgba.ptr<std::uint32_t>(), orientation, 1)) return {};
  cv::cvtColor(rgba, bgr, cv::COLOR_RGBA2BGR);
  return bgr;
}

}  // namespace sheetloupe
