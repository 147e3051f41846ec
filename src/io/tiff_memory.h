// A TIFF file in memory, read or written by libtiff, whose own words about it are not printed.
#pragma once

#include <tiffio.h>

#include <memory>
#include <string>

namespace sheetloupe {

class TiffMemory {
 public:
  /// For reading the file `bytes`, or, without any, for writing one.
  explicit TiffMemory(std::string bytes = "");
  TiffMemory(const TiffMemory&) = delete;
  TiffMemory& operator=(const TiffMemory&) = delete;

  /// Null: not a TIFF file.
  TIFF* tiff() { return tiff_.get(); }

  /// What has been written: call once, at the end.
  std::string finish();

 private:
  TIFF* open();
  static tmsize_t read(thandle_t self, void* to, tmsize_t count);
  static tmsize_t write(thandle_t self, void* from, tmsize_t count);
  static toff_t seek(thandle_t self, toff_t by, int from);

  std::string bytes_;
  std::size_t at_ = 0;
  std::unique_ptr<TIFF, decltype(&TIFFClose)> tiff_;  // after what it writes to
};

}  // namespace sheetloupe
