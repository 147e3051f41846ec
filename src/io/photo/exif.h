// What is read from a photo's EXIF block.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "io/photo/picture_size.h"

namespace sheetloupe {

struct ExifFacts {
  int orientation = 1;  // 1 .. 8
  std::optional<double> focal_35mm_mm;
  std::optional<std::string> taken;  // "2026-03-02T14:05:00"
};

/// `bytes`: a whole JPEG, or a bare EXIF block ("Exif\0\0" + TIFF). Never fails: odd values count as absent.
ExifFacts read_exif(std::string_view bytes);

/// What of a JPEG, PNG or TIFF file to give to read_exif; empty when there is none.
std::string exif_part(std::string_view file, PictureFormat format);

}  // namespace sheetloupe
