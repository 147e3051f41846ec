#include "weave/demodulate.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "weave/block_sums.h"

namespace sheetloupe::weave {
namespace {

// Every two blocks become one node, weighted 1 3 3 1 each way: a carrier one tow away, near the nodes' own frequency,
// is held to 1 in 1000 where a plain sum would let 1 in 20 fold onto the signal.
constexpr double kHalvingVariance = 0.75;  // of those weights, in blocks squared

void halve(const EightSums* first, int count, std::ptrdiff_t stride, int groups, EightSums* out, std::ptrdiff_t to) {
  const auto at = [&](int i, int g) -> const EightSums& { return first[std::clamp(i, 0, count - 1) * stride + g]; };
  for (int i = 0; i < count / 2; ++i) {
    for (int g = 0; g < groups; ++g) {
      const EightSums &a = at(2 * i - 1, g), &b = at(2 * i, g), &c = at(2 * i + 1, g), &d = at(2 * i + 2, g);
      out[i * to + g] = {a.re + 3.F * (b.re + c.re) + d.re, a.im + 3.F * (b.im + c.im) + d.im};
    }
  }
}

}  // namespace

std::vector<Carried> demodulate(const Normalised& n, const cv::Mat1f& s, const cv::Mat1f& t, int block,
                                const std::vector<Index>& indices, double sigma_nodes) {
  const std::vector<EightCarriers> carriers = in_eights(indices);
  const int groups = static_cast<int>(carriers.size()), wide = s.cols * groups;
  std::vector<EightSums> across(static_cast<std::size_t>(2 * s.rows) * wide);
  cv::parallel_for_(cv::Range(0, 2 * s.rows), [&](const cv::Range& range) {
    BlockSums blocks(n.z, s, t, block);
    std::vector<EightSums> row;
    for (int r = range.start; r < range.end; ++r) {
      blocks.row(r, carriers, row);
      halve(row.data(), 2 * s.cols, groups, groups, &across[static_cast<std::size_t>(r) * wide], groups);
    }
  });
  std::vector<EightSums> nodes(static_cast<std::size_t>(s.rows) * wide);
  halve(across.data(), 2 * s.rows, wide, wide, nodes.data(), wide);
  std::vector<Carried> out(indices.size());
  const double rest = std::sqrt(std::max(0.01, sigma_nodes * sigma_nodes - kHalvingVariance / 4));
  cv::parallel_for_(cv::Range(0, static_cast<int>(out.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      cv::Mat1f re(s.size()), im(s.size());
      for (int k = 0; k < s.rows * s.cols; ++k) {
        const EightSums& node = nodes[static_cast<std::size_t>(k) * groups + i / kLanes];
        re(k) = node.re[i % kLanes];
        im(k) = node.im[i % kLanes];
      }
      cv::GaussianBlur(re, out[i].re, {}, rest);
      cv::GaussianBlur(im, out[i].im, {}, rest);
    }
  });
  return out;
}

}  // namespace sheetloupe::weave
