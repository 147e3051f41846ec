// A picture's size from its header alone, before anything is decoded.
#pragma once

#include <optional>
#include <string_view>

namespace sheetloupe {

enum class PictureFormat { unknown, jpeg, png, tiff, heic };

struct PictureHeader {
  PictureFormat format = PictureFormat::unknown;
  std::optional<double> megapixels;  // none: the header does not say
  int tiff_orientation = 1;          // 1 .. 8; TIFF only
  int columns = 0, rows = 0;         // JPEG only; 0 when the header does not say
};

PictureHeader read_picture_header(std::string_view bytes);

/// A JPEG whose entropy-coded data runs to its end-of-image marker (ITU-T T.81, B.1.1.3).
bool jpeg_is_whole(std::string_view bytes);

/// A PNG whose chunks, as long as they call themselves, lie in the file to the last (ISO/IEC 15948:2004, 5.3, 5.6).
/// libpng asks for a chunk's memory before it looks how much there is.
bool png_is_whole(std::string_view bytes);

}  // namespace sheetloupe
