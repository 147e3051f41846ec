#include "weave/node_grid.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace sheetloupe::weave {
namespace {

struct Tap {
  std::array<int, 4> at{};
  std::array<float, 4> weight{};
};

std::vector<Tap> taps_of(int nodes, double from_mm, int count, double to_mm) {
  std::vector<Tap> taps(count);
  for (int i = 0; i < count; ++i) {
    const double x = std::clamp((i + 0.5) * to_mm / from_mm - 0.5, 0.0, nodes - 1.0);
    const int first = static_cast<int>(x);
    const double t = x - first;
    taps[i].weight = {static_cast<float>(0.5 * t * (-1 + t * (2 - t))),
                      static_cast<float>(1 + 0.5 * t * t * (3 * t - 5)),
                      static_cast<float>(0.5 * t * (1 + t * (4 - 3 * t))), static_cast<float>(0.5 * t * t * (t - 1))};
    for (int k = 0; k < 4; ++k) taps[i].at[k] = std::clamp(first + k - 1, 0, nodes - 1);
  }
  return taps;
}

}  // namespace

cv::Mat1f sampled(const cv::Mat1f& nodes, double from_mm, const cv::Size& size, double to_mm) {
  const std::vector<Tap> across = taps_of(nodes.cols, from_mm, size.width, to_mm),
                         down = taps_of(nodes.rows, from_mm, size.height, to_mm);
  cv::Mat1f wide(nodes.rows, size.width), out(size);
  for (int r = 0; r < nodes.rows; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const Tap& tap = across[c];
      float sum = 0;
      for (int k = 0; k < 4; ++k) sum += tap.weight[k] * nodes(r, tap.at[k]);
      wide(r, c) = sum;
    }
  }
  for (int r = 0; r < size.height; ++r) {
    const Tap& tap = down[r];
    for (int c = 0; c < size.width; ++c) {
      float sum = 0;
      for (int k = 0; k < 4; ++k) sum += tap.weight[k] * wide(tap.at[k], c);
      out(r, c) = sum;
    }
  }
  return out;
}

}  // namespace sheetloupe::weave
