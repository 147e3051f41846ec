#include <tiffio.h>

#include <algorithm>
#include <cstring>
#include <memory>
#include <opencv2/imgproc.hpp>
#include <stdexcept>

#include "io/photo/decode.h"

namespace sheetloupe {
namespace {

// The bytes as a file that can only be read.
struct Source {
  std::string_view bytes;
  std::size_t at = 0;
};

tmsize_t take(thandle_t handle, void* to, tmsize_t count) {
  auto& source = *static_cast<Source*>(handle);
  const std::size_t n = std::min(static_cast<std::size_t>(count), source.bytes.size() - source.at);
  std::memcpy(to, source.bytes.data() + source.at, n);
  source.at += n;
  return static_cast<tmsize_t>(n);
}

toff_t seek(thandle_t handle, toff_t by, int from) {
  auto& source = *static_cast<Source*>(handle);
  const toff_t start = from == SEEK_SET ? 0 : from == SEEK_CUR ? source.at : source.bytes.size();
  source.at = std::min<toff_t>(start + by, source.bytes.size());
  return source.at;
}

}  // namespace

cv::Mat decode_tiff(std::string_view bytes) {
  TIFFSetErrorHandler(nullptr);
  TIFFSetWarningHandler(nullptr);
  Source source{bytes};
  const std::unique_ptr<TIFF, decltype(&TIFFClose)> tiff(
      TIFFClientOpen(
          "photo", "rm", &source, take, [](thandle_t, void*, tmsize_t) { return tmsize_t{0}; }, seek,
          [](thandle_t) { return 0; },
          [](thandle_t handle) { return static_cast<toff_t>(static_cast<Source*>(handle)->bytes.size()); },
          [](thandle_t, void**, toff_t*) { return 0; }, [](thandle_t, void*, toff_t) {}),
      &TIFFClose);
  if (!tiff) return {};
  std::uint32_t width = 0, height = 0;
  std::uint16_t format = SAMPLEFORMAT_UINT, orientation = ORIENTATION_TOPLEFT;
  TIFFGetField(tiff.get(), TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(tiff.get(), TIFFTAG_IMAGELENGTH, &height);
  TIFFGetFieldDefaulted(tiff.get(), TIFFTAG_SAMPLEFORMAT, &format);
  TIFFGetFieldDefaulted(tiff.get(), TIFFTAG_ORIENTATION, &orientation);
  if (format == SAMPLEFORMAT_INT) throw std::domain_error("signed whole numbers");
  if (format == SAMPLEFORMAT_IEEEFP) throw std::domain_error("broken numbers");
  if (width == 0 || height == 0) return {};
  cv::Mat rgba(static_cast<int>(height), static_cast<int>(width), CV_8UC4), bgr;
  // Asked for as it is stored, the library turns nothing.
  if (!TIFFReadRGBAImageOriented(tiff.get(), width, height, rgba.ptr<std::uint32_t>(), orientation, 1)) return {};
  cv::cvtColor(rgba, bgr, cv::COLOR_RGBA2BGR);
  return bgr;
}

}  // namespace sheetloupe
