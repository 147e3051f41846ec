#include <algorithm>
#include <array>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/photo.h"

namespace sheetloupe {
namespace {

constexpr int kBlock = 3;  // px: a blown pixel alone is a glint
constexpr int kBlocks = 10;
// JPEG and a photo's noise leave a blown-out place this far below its top (from memory).
constexpr double kRipple = 5.0;

// The level that this channel reaches or passes throughout so many blocks.
int top_of(const std::array<int, 256>& blocks) {
  int level = 255;
  for (int seen = blocks[255]; seen < kBlocks && level > 0;) seen += blocks[static_cast<std::size_t>(--level)];
  return level;
}

}  // namespace

cv::Vec3d blown_levels(const cv::Mat& bgr, const std::optional<cv::Vec3d>& paper) {
  const cv::Vec3d usual = cv::Vec3d::all(255.0 - kRipple);
  if (!paper) return usual;
  std::array<std::array<int, 256>, 3> blocks{};
  cv::Mat least;
  for (int r = 0; r + kBlock <= bgr.rows; r += kBlock) {
    cv::min(bgr.row(r), bgr.row(r + 1), least);
    cv::min(least, bgr.row(r + 2), least);
    const unsigned char* level = least.ptr();
    for (int c = 0; c + kBlock <= bgr.cols; c += kBlock, level += 3 * kBlock) {
      for (std::size_t k = 0; k < 3; ++k) ++blocks[k][std::min({level[k], level[k + 3], level[k + 6]})];
    }
  }
  cv::Vec3d levels;
  for (int k = 0; k < 3; ++k) {
    const double top = top_of(blocks[static_cast<std::size_t>(k)]);
    if (top < (*paper)[k] - kRipple) return usual;
    levels[k] = std::min(usual[k], top - kRipple);
  }
  return levels;
}

}  // namespace sheetloupe
