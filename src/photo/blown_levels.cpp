#include <algorithm>
#include <array>
#include <numeric>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/photo.h"

namespace sheetloupe {
namespace {

constexpr int kBlock = 3;  // px: a blown pixel alone is a glint
constexpr int kBlocks = 10;
constexpr int kRipple = 5;  // a blown-out place below its top; see kBlownUsually
// Sheen thins out toward its brightest level; what was cut off is piled up there. So many times more within a ripple of
// the top than within a ripple below that.
constexpr int kPiled = 2;

using Counts = std::array<int, 256>;

// Of the darkest level of each block on the face.
std::array<Counts, 3> counts_of_blocks(const cv::Mat& bgr, const cv::Mat& face) {
  std::array<Counts, 3> counts{};
  cv::Mat least;
  for (int r = 0; r + kBlock <= bgr.rows; r += kBlock) {
    cv::min(bgr.row(r), bgr.row(r + 1), least);
    cv::min(least, bgr.row(r + 2), least);
    const unsigned char *level = least.ptr(), *here = face.ptr(r + 1) + 1;
    for (int c = 0; c + kBlock <= bgr.cols; c += kBlock, level += 3 * kBlock, here += kBlock) {
      if (*here == 0) continue;
      for (std::size_t k = 0; k < 3; ++k) ++counts[k][std::min({level[k], level[k + 3], level[k + 6]})];
    }
  }
  return counts;
}

// The level that so many blocks reach or pass.
int top_of(const Counts& counts) {
  int level = 255;
  for (int seen = counts[255]; seen < kBlocks && level > 0;) seen += counts[static_cast<std::size_t>(--level)];
  return level;
}

bool piled_up(const Counts& counts, int top) {
  const auto from = [&](int level) { return counts.begin() + std::max(level, 0); };
  const int at_top = std::accumulate(from(top - kRipple), counts.end(), 0);
  const int below = std::accumulate(from(top - 2 * kRipple), from(top - kRipple), 0);
  return at_top >= kPiled * below;
}

}  // namespace

cv::Vec3d blown_levels(const cv::Mat& bgr, const cv::Mat& face, const std::optional<cv::Vec3d>& paper) {
  if (!paper) return kBlownUsually;
  const std::array<Counts, 3> counts = counts_of_blocks(bgr, face);
  cv::Vec3d levels;
  for (int k = 0; k < 3; ++k) {
    const Counts& seen = counts[static_cast<std::size_t>(k)];
    const int top = top_of(seen);
    if (top < (*paper)[k] - kRipple || !piled_up(seen, top)) return kBlownUsually;
    levels[k] = std::min(kBlownUsually[k], static_cast<double>(top - kRipple));
  }
  return levels;
}

}  // namespace sheetloupe
