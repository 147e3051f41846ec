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

/// The data of a PNG's first chunk of this type (ISO/IEC 15948:2004, 5.3). None when there is none, or when a chunk
/// before it, as long as it calls itself, does not lie in the file.
std::optional<std::string_view> png_chunk(std::string_view bytes, std::string_view type);

/// A PNG whose chunks lie in the file to the last. libpng asks for a chunk's memory before it looks how much there is.
bool png_is_whole(std::string_view bytes);

}  // namespace sheetloupe
