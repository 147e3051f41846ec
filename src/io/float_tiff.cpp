#include "io/float_tiff.h"

#include <tiffio.h>

#include <algorithm>
#include <memory>
#include <new>

namespace sheetloupe {
namespace {

// A file that grows in memory.
struct Growing {
  std::string bytes;
  std::size_t at = 0;
};

tmsize_t put(thandle_t handle, void* from, tmsize_t count) {
  auto& file = *static_cast<Growing*>(handle);
  const auto n = static_cast<std::size_t>(count);
  file.bytes.resize(std::max(file.bytes.size(), file.at + n));
  std::copy_n(static_cast<const char*>(from), n, file.bytes.begin() + static_cast<std::ptrdiff_t>(file.at));
  file.at += n;
  return count;
}

toff_t seek(thandle_t handle, toff_t by, int from) {
  auto& file = *static_cast<Growing*>(handle);
  const toff_t start = from == SEEK_SET ? 0 : from == SEEK_CUR ? file.at : file.bytes.size();
  return file.at = start + by;
}

}  // namespace

std::string float_tiff(const cv::Mat1f& map) {
  Growing file;
  const std::unique_ptr<TIFF, decltype(&TIFFClose)> tiff(
      TIFFClientOpen(
          "map", "wl", &file, [](thandle_t, void*, tmsize_t) { return tmsize_t{0}; }, put, seek,
          [](thandle_t) { return 0; },
          [](thandle_t handle) { return static_cast<toff_t>(static_cast<Growing*>(handle)->bytes.size()); },
          [](thandle_t, void**, toff_t*) { return 0; }, [](thandle_t, void*, toff_t) {}),
      &TIFFClose);
  if (!tiff) throw std::bad_alloc();  // nothing else can fail in memory
  TIFFSetField(tiff.get(), TIFFTAG_IMAGEWIDTH, map.cols);
  TIFFSetField(tiff.get(), TIFFTAG_IMAGELENGTH, map.rows);
  TIFFSetField(tiff.get(), TIFFTAG_ROWSPERSTRIP, map.rows);
  TIFFSetField(tiff.get(), TIFFTAG_BITSPERSAMPLE, 32);
  TIFFSetField(tiff.get(), TIFFTAG_SAMPLESPERPIXEL, 1);
  TIFFSetField(tiff.get(), TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_IEEEFP);
  TIFFSetField(tiff.get(), TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_MINISBLACK);
  TIFFSetField(tiff.get(), TIFFTAG_COMPRESSION, COMPRESSION_NONE);
  for (int r = 0; r < map.rows; ++r)
    TIFFWriteScanline(tiff.get(), const_cast<float*>(map.ptr<float>(r)), static_cast<std::uint32_t>(r));
  if (!TIFFFlush(tiff.get())) throw std::bad_alloc();
  return file.bytes;
}

}  // namespace sheetloupe
