#include "io/png.h"

#include <libdeflate.h>

#include <array>
#include <cstdint>
#include <memory>
#include <new>
#include <opencv2/imgproc.hpp>
#include <string_view>

namespace sheetloupe {
namespace {

void append_word(std::string& bytes, std::uint32_t word) {
  for (int shift = 24; shift >= 0; shift -= 8) bytes += static_cast<char>(word >> shift & 0xFF);
}

// PNG (ISO/IEC 15948:2004), 5.3: length, type, data, and the CRC of type and data.
void append_chunk(std::string& png, std::string_view type, std::string_view data) {
  append_word(png, static_cast<std::uint32_t>(data.size()));
  const std::size_t from = png.size();
  png += type;
  png += data;
  append_word(png, libdeflate_crc32(0, png.data() + from, png.size() - from));
}

// Every row with its filter's number before it (9.2): photos as differences to the pixel on the left, labels as they
// are.
std::string scanlines(const cv::Mat& picture) {
  constexpr char kNone = 0, kSub = 1;
  const std::size_t channels = picture.channels(), width = picture.cols * channels;
  std::string lines((width + 1) * picture.rows, '\0');
  char* to = lines.data();
  for (int r = 0; r < picture.rows; ++r) {
    const unsigned char* from = picture.ptr(r);
    cv::Mat rgb;
    if (channels > 1) {
      cv::cvtColor(picture.row(r), rgb, channels == 3 ? cv::COLOR_BGR2RGB : cv::COLOR_BGRA2RGBA);
      from = rgb.ptr();
    }
    *to++ = channels > 1 ? kSub : kNone;
    const std::size_t as_they_are = channels > 1 ? channels : width;
    for (std::size_t k = 0; k < as_they_are; ++k) to[k] = static_cast<char>(from[k]);
    for (std::size_t k = as_they_are; k < width; ++k) to[k] = static_cast<char>(from[k] - from[k - channels]);
    to += width;
  }
  return lines;
}

std::string deflated(std::string_view bytes) {
  // Of a photo's noise nothing is gained by packing harder: level 1 is the fastest.
  const std::unique_ptr<libdeflate_compressor, decltype(&libdeflate_free_compressor)> packer(
      libdeflate_alloc_compressor(1), &libdeflate_free_compressor);
  if (!packer) throw std::bad_alloc();
  std::string packed(libdeflate_zlib_compress_bound(packer.get(), bytes.size()), '\0');
  packed.resize(libdeflate_zlib_compress(packer.get(), bytes.data(), bytes.size(), packed.data(), packed.size()));
  return packed;
}

}  // namespace

std::string png_bytes(const cv::Mat& picture) {
  CV_Assert(!picture.empty() && (picture.type() == CV_8UC1 || picture.type() == CV_8UC3 || picture.type() == CV_8UC4));
  constexpr char kGrey = 0, kColour = 2, kColourAndOpacity = 6;
  const char kind = picture.channels() == 1 ? kGrey : picture.channels() == 3 ? kColour : kColourAndOpacity;
  std::string header;
  append_word(header, static_cast<std::uint32_t>(picture.cols));
  append_word(header, static_cast<std::uint32_t>(picture.rows));
  header += {char{8}, kind, char{0}, char{0}, char{0}};
  std::string png = "\x89PNG\r\n\x1a\n";
  append_chunk(png, "IHDR", header);
  append_chunk(png, "IDAT", deflated(scanlines(picture)));
  append_chunk(png, "IEND", "");
  return png;
}

}  // namespace sheetloupe
