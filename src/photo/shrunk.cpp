#include <algorithm>
#include <cstdint>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "sheetloupe/photo.h"
#include "sheetloupe/wide.h"

namespace sheetloupe {
namespace {

SHEETLOUPE_WIDE void add_row(const unsigned char* row, int count, std::uint16_t* sums) {
  for (int i = 0; i < count; ++i) sums[i] = static_cast<std::uint16_t>(sums[i] + row[i]);
}

// `sums`: of whole columns of `factor` px. `kFactor`: the same where it is known beforehand, else 0.
template <int kChannels, int kFactor>
SHEETLOUPE_WIDE void add_groups(const std::uint16_t* sums, int factor, int groups, unsigned char* means) {
  const int count = kFactor ? kFactor : factor;
  const unsigned area = static_cast<unsigned>(count) * static_cast<unsigned>(count);
  // Division by multiplying: exact for numbers below 2^24, which no group's sum reaches.
  const std::uint64_t share = (std::uint64_t{1} << 48) / area + 1;
  for (int g = 0; g < groups; ++g) {
    for (int k = 0; k < kChannels; ++k) {
      unsigned sum = area / 2;
      for (int i = 0; i < count; ++i) sum += sums[(g * count + i) * kChannels + k];
      means[g * kChannels + k] = static_cast<unsigned char>(sum * share >> 48);
    }
  }
}

template <int kChannels>
auto adder_of(int factor) {
  return factor == 3   ? add_groups<kChannels, 3>
         : factor == 4 ? add_groups<kChannels, 4>
         : factor == 5 ? add_groups<kChannels, 5>
                       : add_groups<kChannels, 0>;
}

}  // namespace

cv::Mat shrunk(const cv::Mat& picture, int factor) {
  if (factor == 1) return picture;
  CV_Assert(picture.depth() == CV_8U && picture.channels() <= 3 && factor > 1 && factor <= 256);
  const int channels = picture.channels();
  cv::Mat small(picture.rows / factor, picture.cols / factor, picture.type());
  if (factor == 2 && !small.empty()) {  // the library has a way of its own for halves, and no other factor
    cv::resize(picture(cv::Rect({}, small.size() * factor)), small, small.size(), 0, 0, cv::INTER_AREA);
    return small;
  }
  const int width = small.cols * factor * channels;
  const auto add_up = channels == 1 ? adder_of<1>(factor) : adder_of<3>(factor);
  std::vector<std::uint16_t> sums(static_cast<std::size_t>(width));
  for (int r = 0; r < small.rows; ++r) {
    std::fill(sums.begin(), sums.end(), std::uint16_t{0});
    for (int i = 0; i < factor; ++i) add_row(picture.ptr(r * factor + i), width, sums.data());
    add_up(sums.data(), factor, small.cols, small.ptr(r));
  }
  return small;
}

}  // namespace sheetloupe
