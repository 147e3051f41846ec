#include "io/photo/picture_size.h"

#include <algorithm>
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
PictureHeader jpeg_header(std::string_view b) {
  PictureHeader header;
  header.format = PictureFormat::jpeg;
  std::size_t at = 2;
  while (at + 9 < b.size()) {
    if (static_cast<unsigned char>(b[at]) != 0xFF) break;
    const auto marker = static_cast<unsigned char>(b[at + 1]);
    if (marker == 0xFF) {  // fill byte
      ++at;
      continue;
    }
    const bool frame = marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
    if (frame) {
      header.columns = static_cast<int>(number(b, at + 7, 2));
      header.rows = static_cast<int>(number(b, at + 5, 2));
      header.megapixels = megapixels(header.columns, header.rows);
      break;
    }
    at += 2 + number(b, at + 2, 2);
  }
  return header;
}

// First directory's ImageWidth (256), ImageLength (257) and Orientation (274) (TIFF 6.0, section 8).
PictureHeader tiff_header(std::string_view b) {
  PictureHeader header;
  header.format = PictureFormat::tiff;
  const bool little = b[0] == 'I';
  const std::size_t directory = number(b, 4, 4, little);
  if (directory + 2 > b.size()) return header;
  const std::uint32_t count = number(b, directory, 2, little);
  double width = 0, height = 0;
  for (std::uint32_t i = 0; i < count && directory + 2 + 12 * (i + 1ULL) <= b.size(); ++i) {
    const std::size_t entry = directory + 2 + 12ULL * i;
    const std::uint32_t tag = number(b, entry, 2, little), type = number(b, entry + 2, 2, little);
    const double value = number(b, entry + 8, type == 3 ? 2 : 4, little);
    if (tag == 256) width = std::max(width, value);  // a tag given twice: the larger, for the limit
    if (tag == 257) height = std::max(height, value);
    if (tag == 274 && value >= 1 && value <= 8) header.tiff_orientation = static_cast<int>(value);
  }
  if (width > 0 && height > 0) header.megapixels = megapixels(width, height);
  return header;
}

}  // namespace

PictureHeader read_picture_header(std::string_view b) {
  PictureHeader header;
  if (b.size() < 16) return header;
  if (b.substr(0, 3) == "\xFF\xD8\xFF") return jpeg_header(b);
  if (b.substr(0, 8) == "\x89PNG\r\n\x1A\n" && b.size() >= 24) {
    header.format = PictureFormat::png;
    header.megapixels = megapixels(number(b, 16, 4), number(b, 20, 4));
    return header;
  }
  if (b.substr(0, 4) == std::string_view("II*\0", 4) || b.substr(0, 4) == std::string_view("MM\0*", 4)) {
    return tiff_header(b);
  }
  // ISO base media file: "ftyp" box with a HEIF brand (ISO/IEC 23008-12).
  if (b.substr(4, 4) == "ftyp") header.format = PictureFormat::heic;
  return header;
}

bool jpeg_is_whole(std::string_view b) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(b[i]); };
  // Segments are walked by their lengths, so the end marker of a preview inside one does not count, nor does what
  // phones append behind the picture.
  std::size_t at = 2;
  while (at + 1 < b.size()) {
    if (byte(at) != 0xFF || byte(at + 1) == 0x00 || (byte(at + 1) >= 0xD0 && byte(at + 1) <= 0xD7)) {
      ++at;  // coded data: 0xFF stands in it only before 0 or a restart marker (B.1.1.5)
      continue;
    }
    if (byte(at + 1) == 0xD9) return true;
    if (byte(at + 1) == 0xFF || byte(at + 1) == 0x01) {  // fill byte, or a marker without a segment
      ++at;
      continue;
    }
    if (at + 3 >= b.size()) return false;
    at += 2 + number(b, at + 2, 2);
  }
  return false;
}

std::optional<std::string_view> png_chunk(std::string_view b, std::string_view type) {
  constexpr std::size_t kSignature = 8, kLengthAndType = 8, kAround = 12;  // with the check behind the data
  for (std::size_t at = kSignature; at + kAround <= b.size();) {
    const std::size_t length = number(b, at, 4);
    if (length > b.size() - at - kAround) return {};
    if (b.substr(at + 4, 4) == type) return b.substr(at + kLengthAndType, length);
    at += kAround + length;
  }
  return {};
}

bool png_is_whole(std::string_view bytes) { return png_chunk(bytes, "IEND").has_value(); }

}  // namespace sheetloupe
