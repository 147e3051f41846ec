#include "support/odd_photos.h"

#include <array>
#include <opencv2/imgcodecs.hpp>
#include <string_view>
#include <vector>

namespace sheetloupe {
namespace {

std::string little(std::uint32_t value, int bytes) {
  std::string text;
  for (int i = 0; i < bytes; ++i) text += static_cast<char>(value >> (8 * i) & 255U);
  return text;
}

std::string big(std::uint32_t value, int bytes) {
  std::string text;
  for (int i = bytes - 1; i >= 0; --i) text += static_cast<char>(value >> (8 * i) & 255U);
  return text;
}

std::string entry(int tag, int type, std::uint32_t count, std::uint32_t value) {
  return little(static_cast<std::uint32_t>(tag), 2) + little(static_cast<std::uint32_t>(type), 2) + little(count, 4) +
         little(value, 4);
}

constexpr int kShort = 3, kLong = 4;

// CRC-32 of ISO 3309, as PNG asks (third edition, annex D).
std::uint32_t crc(std::string_view bytes) {
  std::uint32_t c = 0xFFFFFFFFU;
  for (const char b : bytes) {
    c ^= static_cast<unsigned char>(b);
    for (int k = 0; k < 8; ++k) c = (c & 1U) ? 0xEDB88320U ^ (c >> 1U) : c >> 1U;
  }
  return ~c;
}

std::string directory(const std::vector<std::string>& entries) {
  std::string text = little(static_cast<std::uint32_t>(entries.size()), 2);
  for (const std::string& e : entries) text += e;
  return text + little(0, 4);
}

std::string segment(int marker, const std::string& payload) {
  return std::string("\xFF") + static_cast<char>(marker) + big(static_cast<std::uint32_t>(payload.size()) + 2, 2) +
         payload;
}

}  // namespace

cv::Mat upright() {
  cv::Mat picture(80, 120, CV_8UC3, cv::Scalar(255, 255, 255));
  picture(cv::Rect(0, 0, 60, 40)) = cv::Scalar(0, 0, 255);
  picture(cv::Rect(60, 0, 60, 40)) = cv::Scalar(0, 255, 0);
  picture(cv::Rect(0, 40, 60, 40)) = cv::Scalar(255, 0, 0);
  return picture;
}

std::string encoded(const std::string& ending, const cv::Mat& picture) {
  std::vector<unsigned char> bytes;
  cv::imencode(ending, picture, bytes);
  return {bytes.begin(), bytes.end()};
}

std::string tiff_file(const cv::Mat& picture, int orientation) {
  std::string pixels;
  for (int r = 0; r < picture.rows; ++r) {
    for (int c = 0; c < picture.cols; ++c) {
      const auto p = picture.at<cv::Vec3b>(r, c);
      for (const int channel : {2, 1, 0}) pixels += static_cast<char>(p[channel]);
    }
  }
  const auto width = static_cast<std::uint32_t>(picture.cols), height = static_cast<std::uint32_t>(picture.rows);
  const auto size = static_cast<std::uint32_t>(pixels.size());
  const std::string bits = little(8, 2) + little(8, 2) + little(8, 2);
  const std::uint32_t after = 8 + size + static_cast<std::uint32_t>(bits.size());
  return std::string("II*\0", 4) + little(after, 4) + pixels + bits +
         directory({entry(256, kLong, 1, width), entry(257, kLong, 1, height), entry(258, kShort, 3, 8 + size),
                    entry(259, kShort, 1, 1), entry(262, kShort, 1, 2), entry(273, kLong, 1, 8),
                    entry(274, kShort, 1, static_cast<std::uint32_t>(orientation)), entry(277, kShort, 1, 3),
                    entry(278, kLong, 1, height), entry(279, kLong, 1, size)});
}

std::string tiff_of_signed_numbers(int width, int height) {
  const auto w = static_cast<std::uint32_t>(width), h = static_cast<std::uint32_t>(height);
  const std::uint32_t size = 4 * w * h;
  return std::string("II*\0", 4) + little(8 + size, 4) + std::string(size, '\1') +
         directory({entry(256, kLong, 1, w), entry(257, kLong, 1, h), entry(258, kShort, 1, 32),
                    entry(259, kShort, 1, 1), entry(262, kShort, 1, 1), entry(273, kLong, 1, 8),
                    entry(277, kShort, 1, 1), entry(278, kLong, 1, h), entry(279, kLong, 1, size),
                    entry(339, kShort, 1, 2)});
}

std::string exif_block(int orientation) {
  return std::string("II*\0", 4) + little(8, 4) +
         directory({entry(274, kShort, 1, static_cast<std::uint32_t>(orientation))});
}

std::string jpeg_with_exif(const std::string& file, const std::string& block) {
  return file.substr(0, 2) + segment(0xE1, std::string("Exif\0\0", 6) + block) + file.substr(2);
}

std::string jpeg_with_app2(const std::string& file, const std::string& payload) {
  return file.substr(0, 2) + segment(0xE2, payload) + file.substr(2);
}

std::string png_with_exif(const std::string& file, const std::string& block) {
  constexpr std::size_t kHeaderEnd = 8 + 12 + 13;  // signature, IHDR
  const std::string chunk = "eXIf" + block;
  return file.substr(0, kHeaderEnd) + big(static_cast<std::uint32_t>(block.size()), 4) + chunk + big(crc(chunk), 4) +
         file.substr(kHeaderEnd);
}

cv::Mat stored_under(const cv::Mat& upright, int orientation) {
  // {side that the 0th row is, side that the 0th column is}: t(op), b(ottom), l(eft), r(ight).
  constexpr std::array<const char*, 8> kSides = {"tl", "tr", "br", "bl", "lt", "rt", "rb", "lb"};
  const std::string_view sides = kSides.at(static_cast<std::size_t>(orientation - 1));
  const bool rows_run_down = sides[0] == 't' || sides[0] == 'b';
  const int height = upright.rows, width = upright.cols;
  cv::Mat stored(rows_run_down ? height : width, rows_run_down ? width : height, upright.type());
  for (int r = 0; r < stored.rows; ++r) {
    for (int c = 0; c < stored.cols; ++c) {
      int x = 0, y = 0;
      // Row r lies r px from its named side, column c likewise.
      for (const auto& [side, distance] : {std::pair<char, int>{sides[0], r}, {sides[1], c}}) {
        if (side == 't') y = distance;
        if (side == 'b') y = height - 1 - distance;
        if (side == 'l') x = distance;
        if (side == 'r') x = width - 1 - distance;
      }
      stored.at<cv::Vec3b>(r, c) = upright.at<cv::Vec3b>(y, x);
    }
  }
  return stored;
}

}  // namespace sheetloupe
