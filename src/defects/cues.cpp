#include "defects/cues.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "defects/blocks.h"
#include "sheetloupe/median.h"

namespace sheetloupe::defects {
namespace {

constexpr double kNodeMm = 0.4;
constexpr double kWindowTows = 0.55;    // sigma of the mean around a node
constexpr double kBackgroundMm = 18.0;  // slower changes are light, not defects

// Means of every channel in a Gaussian window around each block.
std::array<cv::Mat1f, kChannelCount> window_means(const Blocks& blocks, double sigma) {
  const auto blur = [sigma](const auto& from, auto& to) {
    cv::parallel_for_(cv::Range(0, static_cast<int>(from.size())), [&](const cv::Range& range) {
      for (int k = range.start; k < range.end; ++k) cv::GaussianBlur(from[k], to[k], {}, sigma);
    });
  };
  std::array<cv::Mat1f, kGroupCount> weight;
  std::array<cv::Mat1f, kChannelCount> mean;
  blur(blocks.count, weight);
  blur(blocks.sum, mean);
  for (std::size_t k = 0; k < mean.size(); ++k) cv::divide(mean[k], cv::max(weight[kGroupOf[k]], 1e-3), mean[k]);
  return mean;
}

struct Standard {
  cv::Mat1f above;  // of the local background (reweighted so that defects do not pull it)
  double mad;
};

cv::Mat1f every_second(const cv::Mat1f& nodes) {
  cv::Mat1f some((nodes.rows + 1) / 2, (nodes.cols + 1) / 2);
  for (int r = 0; r < some.rows; ++r) {
    for (int c = 0; c < some.cols; ++c) some(r, c) = nodes(2 * r, 2 * c);
  }
  return some;
}

// The background is so slow that every second node tells it.
Standard standardised(const cv::Mat1f& values, const cv::Mat1f& judged, double node_mm) {
  const double sigma = kBackgroundMm / (2 * node_mm);
  const int shrink = std::max(1, static_cast<int>(sigma / 4));
  const cv::Mat1f some = every_second(values), seen = every_second(judged);
  const cv::Size small((some.cols + shrink - 1) / shrink, (some.rows + shrink - 1) / shrink);
  cv::Mat1f weight = seen.clone(), mean, background;
  double mad = 1.0;
  for (int round = 0; round < 4; ++round) {
    cv::Mat1f sum, total;
    cv::resize(some.mul(weight), sum, small, 0, 0, cv::INTER_AREA);
    cv::resize(weight, total, small, 0, 0, cv::INTER_AREA);
    cv::GaussianBlur(sum, sum, {}, sigma / shrink, 0, cv::BORDER_REFLECT);
    cv::GaussianBlur(total, total, {}, sigma / shrink, 0, cv::BORDER_REFLECT);
    cv::divide(sum, cv::max(total, 1e-4), mean);
    cv::resize(mean, background, some.size(), 0, 0, cv::INTER_LINEAR);
    const cv::Mat1f above = some - background;
    std::vector<float> size;
    size.reserve(above.total());
    for (int r = 0; r < above.rows; ++r) {
      const float *value = above[r], *share = seen[r];
      for (int c = 0; c < above.cols; ++c) {
        if (share[c] > 0.5F) size.push_back(std::abs(value[c]));
      }
    }
    mad = std::max(1.4826 * median(size), 1e-6);
    const auto unit = static_cast<float>(1 / (2 * mad));
    for (int r = 0; r < above.rows; ++r) {
      const float *value = above[r], *share = seen[r];
      float* to = weight[r];
      for (int c = 0; c < above.cols; ++c) {
        const float miss = value[c] * unit;
        to[c] = share[c] / (1 + miss * miss * miss * miss);
      }
    }
  }
  cv::resize(mean, background, values.size(), 0, 0, cv::INTER_LINEAR);
  return {values - background, mad};
}

cv::Mat1f extreme(const cv::Mat1f& blocks, double sigma, bool lowest) {
  const int k = 2 * std::max(1, cvRound(1.8 * sigma / 2)) + 1;
  cv::Mat1f out;
  const cv::Mat shape = cv::getStructuringElement(cv::MORPH_ELLIPSE, {k, k});
  lowest ? cv::erode(blocks, out, shape) : cv::dilate(blocks, out, shape);
  cv::GaussianBlur(out, out, {}, 0.6 * sigma);
  return out;
}

}  // namespace

Cues measure_cues(const RectifiedSheet& sheet, const Locked& l) {
  Cues cues;
  const int block = std::max(1, cvRound(kNodeMm / sheet.mm_per_px));
  cues.mm_per_node = block * sheet.mm_per_px;
  const double sigma = kWindowTows * l.tow_mm / cues.mm_per_node;
  const Blocks blocks = block_sums(sheet, l, block);
  const std::array<cv::Mat1f, kChannelCount> mean = window_means(blocks, sigma);
  std::array<cv::Mat1f, kCueCount> raw;
  raw[kAlongGradient] = mean[kAlongCore];
  raw[kAcrossGradient] = mean[kAcrossCore];
  raw[kResidualMean] = mean[kResidual];
  raw[kResidualEnergy] = mean[kResidualSquared];
  raw[kEdgeMean] = mean[kResidualAtEdge];
  raw[kWarpMean] = mean[kResidualOnWarp];
  raw[kWeftMean] = mean[kResidualOnWeft];
  const auto sharp = [&](Channel k) {
    cv::Mat1f own = mean[k].clone();  // where the node itself shows nothing of it
    cv::Mat1f exact;
    cv::divide(blocks.sum[k], cv::max(blocks.count_of(k), 1.0), exact);
    exact.copyTo(own, blocks.count_of(k) > 0);
    return own;
  };
  raw[kSharpMean] = sharp(kResidual);
  raw[kSharpEnergy] = sharp(kResidualSquared);
  raw[kSharpEdge] = sharp(kResidualAtEdge);
  const cv::Mat1f &light = blocks.sum[kLight], &seen = blocks.count[kEverywhere];
  cv::Mat1f block_light, filled, weight;
  cv::divide(light, cv::max(seen, 1.0), block_light);
  cv::GaussianBlur(light, filled, {}, 2 * sigma);
  cv::GaussianBlur(seen, weight, {}, 2 * sigma);
  cv::divide(filled, cv::max(weight, 1e-3), filled);
  block_light.copyTo(filled, seen > 0);
  raw[kFloor] = extreme(filled, sigma, true);
  raw[kCeiling] = extreme(filled, sigma, false);
  raw[kFine] = mean[kFineSquared];
  raw[kContrast] = mean[kLightSquared] - mean[kLight].mul(mean[kLight]);
  for (Cue k : {kResidualEnergy, kSharpEnergy, kFine, kContrast, kAlongGradient, kAcrossGradient})
    cv::log(cv::max(raw[k], 1e-6), raw[k]);
  raw[kSaturation] = mean[kColour];
  raw[kRedBlue] = mean[kRedOverBlue];
  cv::GaussianBlur(seen / static_cast<double>(block * block), cues.judged, {}, sigma);
  cv::parallel_for_(cv::Range(0, kLogMean), [&](const cv::Range& range) {
    for (int k = range.start; k < range.end; ++k) {
      const Standard s = standardised(raw[k], cues.judged, cues.mm_per_node);
      cues.z[k] = s.above / s.mad;
      constexpr std::array<std::pair<Cue, Cue>, 5> kAlsoInLogs = {{{kResidualMean, kLogMean},
                                                                   {kEdgeMean, kLogEdge},
                                                                   {kWarpMean, kLogWarp},
                                                                   {kWeftMean, kLogWeft},
                                                                   {kAlongGradient, kLogAlong}}};
      for (const auto& [from, to] : kAlsoInLogs) {
        if (k == from) cues.z[to] = 4 * s.above;
      }
    }
  });
  return cues;
}

}  // namespace sheetloupe::defects
