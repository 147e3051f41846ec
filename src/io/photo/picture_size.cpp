#include "io/photo/picture_size.h"

#include <cstdint>

namespace sheetloupe {
namespace {

std::uint32_t number(std::string_view b, std::size_t at, int bytes, bool little = false) {
  std::uint32_t value = 0;
  for (int i = 0; i < bytes; ++i) {
    const auto byte = static_cast<unsigned char>(b[at + static_cast<std::size_t>(little ? bytes - 1 - i : i)]);
    value = value << 8U | byte;
  }
  return value;
}

double megapixels(double width, double height) { return width * height / 1e6; }

// Walks the marker segments to the frame header SOF (ITU-T T.81, table B.1).
std::optional<double> jpeg_megapixels(std::string_view b) {
  std::size_t at = 2;
  while (at + 9 < b.size()) {
    if (static_cast<unsigned char>(b[at]) != 0xFF) return {};
    const auto marker = static_cast<unsigned char>(b[at + 1]);
    if (marker == 0xFF) {  // fill byte
      ++at;
      continue;
    }
    const bool frame = marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
    if (frame) return megapixels(number(b, at + 7, 2), number(b, at + 5, 2));
    at += 2 + number(b, at + 2, 2);
  }
  return {};
}

// First directory's ImageWidth (256) and ImageLength (257) (TIFF 6.0, section 8).
std::optional<double> tiff_megapixels(std::string_view b) {
  const bool little = b[0] == 'I';
  const std::size_t directory = number(b, 4, 4, little);
  if (directory + 2 > b.size()) return {};
  const std::uint32_t count = number(b, directory, 2, little);
  double width = 0, height = 0;
  for (std::uint32_t i = 0; i < count && directory + 2 + 12 * (i + 1ULL) <= b.size(); ++i) {
    const std::size_t entry = directory + 2 + 12ULL * i;
    const std::uint32_t tag = number(b, entry, 2, little), type = number(b, entry + 2, 2, little);
    const double value = number(b, entry + 8, type == 3 ? 2 : 4, little);
    if (tag == 256) width = value;
    if (tag == 257) height = value;
  }
  if (width <= 0 || height <= 0) return {};
  return megapixels(width, height);
}

}  // namespace

PictureHeader read_picture_header(std::string_view b) {
  PictureHeader header;
  if (b.size() < 16) return header;
  if (b.substr(0, 3) == "\xFF\xD8\xFF") return {PictureFormat::jpeg, jpeg_megapixels(b)};
  if (b.substr(0, 8) == "\x89PNG\r\n\x1A\n" && b.size() >= 24) {
    return {PictureFormat::png, megapixels(number(b, 16, 4), number(b, 20, 4))};
  }
  if (b.substr(0, 4) == std::string_view("II*\0", 4) || b.substr(0, 4) == std::string_view("MM\0*", 4)) {
    return {PictureFormat::tiff, tiff_megapixels(b)};
  }
  // ISO base media file: "ftyp" box with a HEIF brand (ISO/IEC 23008-12).
  if (b.substr(4, 4) == "ftyp") header.format = PictureFormat::heic;
  return header;
}

bool jpeg_is_whole(std::string_view bytes) {
  // Phones may append a preview or motion clip behind the end marker, so it may lie anywhere in the later part.
  return bytes.rfind("\xFF\xD9") != std::string_view::npos && bytes.rfind("\xFF\xD9") > bytes.size() / 3;
}

}  // namespace sheetloupe
