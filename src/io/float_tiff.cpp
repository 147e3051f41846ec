#include "io/float_tiff.h"

#include <array>
#include <bit>
#include <cstdint>

namespace sheetloupe {
namespace {

void append(std::string& bytes, std::uint32_t value, int count) {
  for (int i = 0; i < count; ++i) bytes += static_cast<char>(value >> (8 * i) & 0xFF);
}

}  // namespace

std::string float_tiff(const cv::Mat1f& map) {
  constexpr std::uint32_t kShort = 3, kLong = 4, kDataAt = 8;
  const auto width = static_cast<std::uint32_t>(map.cols), height = static_cast<std::uint32_t>(map.rows);
  const std::uint32_t size = 4 * width * height;
  std::string bytes = "II";
  append(bytes, 42, 2);
  append(bytes, kDataAt + size, 4);
  for (const float value : map) append(bytes, std::bit_cast<std::uint32_t>(value), 4);
  struct Entry {
    std::uint32_t tag, type, value;
  };
  const std::array<Entry, 10> entries = {{{256, kLong, width},    // columns
                                          {257, kLong, height},   // rows
                                          {258, kShort, 32},      // bits a number
                                          {259, kShort, 1},       // not packed
                                          {262, kShort, 1},       // larger is brighter
                                          {273, kLong, kDataAt},  // where the strip begins
                                          {277, kShort, 1},       // numbers a place
                                          {278, kLong, height},   // rows a strip
                                          {279, kLong, size},     // bytes of the strip
                                          {339, kShort, 3}}};     // IEEE floating point
  append(bytes, static_cast<std::uint32_t>(entries.size()), 2);
  for (const Entry& entry : entries) {
    append(bytes, entry.tag, 2);
    append(bytes, entry.type, 2);
    append(bytes, 1, 4);
    append(bytes, entry.value, 4);
  }
  append(bytes, 0, 4);
  return bytes;
}

}  // namespace sheetloupe
