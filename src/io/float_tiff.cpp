#include "io/float_tiff.h"

#include <new>

#include "io/tiff_memory.h"

namespace sheetloupe {

std::string float_tiff(const cv::Mat1f& map) {
  TiffMemory file;
  TIFF* tiff = file.tiff();
  if (!tiff) throw std::bad_alloc();  // nothing else can fail in memory
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, map.cols);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, map.rows);
  TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, map.rows);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 32);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
  TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_IEEEFP);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_MINISBLACK);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
  for (int r = 0; r < map.rows; ++r) {
    // The library's own signature; it only reads.
    if (TIFFWriteScanline(tiff, const_cast<float*>(map[r]), static_cast<std::uint32_t>(r)) < 0) throw std::bad_alloc();
  }
  return file.finish();
}

}  // namespace sheetloupe
