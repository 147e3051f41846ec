// Photos from files: JPEG, PNG, TIFF and HEIC, turned upright exactly once.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "sheetloupe/photo.h"

namespace sheetloupe {

/// Larger pictures are refused from their header, before anything is decoded.
inline constexpr double kMaxMegapixels = 100.0;

/// True when the name ends like a photo's (.jpg .jpeg .png .tif .tiff .heic .heif, any case).
bool is_photo_name(const std::filesystem::path& path);

/// Throws InputError: missing, a folder, not a picture, pixels of an odd kind, truncated, too large, too small (under
/// 64 px).
Photo load_photo(const std::filesystem::path& path);

/// The same from a file's bytes; `path` only names them.
Photo photo_from_bytes(std::string_view bytes, const std::filesystem::path& path);

/// Lower-case hex SHA-256 of some bytes.
std::string sha256_hex(std::string_view bytes);

}  // namespace sheetloupe
