#include "defects/cues.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::defects {
namespace {

constexpr double kNodeMm = 0.4;
constexpr double kWindowTows = 0.55;    // sigma of the mean around a node
constexpr double kBackgroundMm = 18.0;  // slower changes are light, not defects

// What is summed over every block of pixels, and the pixels counted for it.
enum Channel {
  kAlongCore,
  kAcrossCore,
  kResidual,
  kResidualSquared,
  kResidualAtEdge,
  kResidualOnWarp,
  kResidualOnWeft,
  kLight,
  kLightSquared,
  kFineSquared,
  kColour,
  kRedOverBlue,
  kChannelCount
};

// Sums over blocks of pixels: values where the weight holds, and the weights.
struct Blocks {
  cv::Mat1f sum, weight;
};

cv::Mat1f window_mean(const Blocks& b, double sigma) {
  cv::Mat1f sum, weight, mean;
  cv::GaussianBlur(b.sum, sum, {}, sigma);
  cv::GaussianBlur(b.weight, weight, {}, sigma);
  cv::divide(sum, cv::max(weight, 1e-3), mean);
  return mean;
}

double median(std::vector<float> values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

struct Standard {
  cv::Mat1f above;  // of the local background (reweighted so that defects do not pull it)
  double mad;
};

Standard standardised(const cv::Mat1f& values, const cv::Mat1f& judged, double node_mm) {
  const double sigma = kBackgroundMm / node_mm;
  const int shrink = std::max(1, static_cast<int>(sigma / 4));
  const cv::Size small((values.cols + shrink - 1) / shrink, (values.rows + shrink - 1) / shrink);
  cv::Mat1f weight = judged.clone(), above = values.clone();
  double mad = 1.0;
  for (int round = 0; round < 4; ++round) {
    cv::Mat1f sum, total, mean, background;
    cv::resize(values.mul(weight), sum, small, 0, 0, cv::INTER_AREA);
    cv::resize(weight, total, small, 0, 0, cv::INTER_AREA);
    cv::GaussianBlur(sum, sum, {}, sigma / shrink, 0, cv::BORDER_REFLECT);
    cv::GaussianBlur(total, total, {}, sigma / shrink, 0, cv::BORDER_REFLECT);
    cv::divide(sum, cv::max(total, 1e-4), mean);
    cv::resize(mean, background, values.size(), 0, 0, cv::INTER_LINEAR);
    above = values - background;
    std::vector<float> size;
    for (int r = 0; r < above.rows; r += 2) {
      for (int c = 0; c < above.cols; c += 2) {
        if (judged(r, c) > 0.5F) size.push_back(std::abs(above(r, c)));
      }
    }
    mad = std::max(1.4826 * median(std::move(size)), 1e-6);
    for (int r = 0; r < above.rows; ++r) {
      for (int c = 0; c < above.cols; ++c) {
        const float miss = above(r, c) / static_cast<float>(2 * mad);
        weight(r, c) = judged(r, c) / (1 + miss * miss * miss * miss);
      }
    }
  }
  return {above, mad};
}

// The sums of one block, pixel by pixel.
class Sums {
 public:
  void add(Channel k, float value) {
    sum_[k] += value;
    weight_[k] += 1;
  }
  void take(std::array<Blocks, kChannelCount>& blocks, int r, int c) const {
    for (std::size_t k = 0; k < kChannelCount; ++k) {
      blocks[k].sum(r, c) = sum_[k];
      blocks[k].weight(r, c) = weight_[k];
    }
  }

 private:
  std::array<float, kChannelCount> sum_{}, weight_{};
};

// Slopes along and across the tow on top, and where on the tow the pixel lies. `count`: warp or weft, whichever is on
// top; `smooth`: the light without pixel noise.
void add_slopes(const cv::Mat1f& count, const cv::Mat1f& smooth, int r, int c, float residual, Sums& sums) {
  const float* here = count[r];
  const float nx = here[c + 1] - here[c - 1], ny = count[r + 1][c] - count[r - 1][c];
  const float length = std::max(1e-6F, std::sqrt(nx * nx + ny * ny));
  const float gx = smooth[r][c + 1] - smooth[r][c - 1], gy = smooth[r + 1][c] - smooth[r - 1][c];
  const float position = 2 * std::abs(here[c] - std::floor(here[c]) - 0.5F);  // 0 middle, 1 edge
  if (position < 0.5F) {
    sums.add(kAcrossCore, std::abs(gx * nx + gy * ny) / length);
    sums.add(kAlongCore, std::abs(gy * nx - gx * ny) / length);
  }
  if (position > 0.75F) sums.add(kResidualAtEdge, residual);
}

// log(level + 8) of every level: the offset keeps black cloth's noise from ruling.
std::array<float, 256> logarithms() {
  std::array<float, 256> table{};
  for (std::size_t i = 0; i < table.size(); ++i) table[i] = std::log(static_cast<float>(i) + 8.F);
  return table;
}

void add_colour(const cv::Vec3b& bgr, Sums& sums) {
  static const std::array<float, 256> kLog = logarithms();
  const auto [least, most] = std::minmax({bgr[0], bgr[1], bgr[2]});
  sums.add(kColour, static_cast<float>(most - least) / (static_cast<float>(most) + 8.F));
  sums.add(kRedOverBlue, kLog[bgr[2]] - kLog[bgr[0]]);
}

// One pass over the picture.
std::array<Blocks, kChannelCount> block_sums(const RectifiedSheet& sheet, const Locked& l, int block) {
  cv::Mat1f smooth, slow;
  cv::GaussianBlur(l.log_light, smooth, {}, 0.12 / sheet.mm_per_px);
  cv::GaussianBlur(l.log_light, slow, {}, 0.16 / sheet.mm_per_px);
  const cv::Size size = l.residual.size();
  std::array<Blocks, kChannelCount> blocks;
  for (Blocks& b : blocks) b = {cv::Mat1f(size / block, 0.F), cv::Mat1f(size / block, 0.F)};
  cv::parallel_for_(cv::Range(0, size.height / block), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      for (int j = 0; j < size.width / block; ++j) {
        Sums sums;
        for (int r = i * block; r < (i + 1) * block; ++r) {
          for (int c = j * block; c < (j + 1) * block; ++c) {
            if (!l.judged[r][c]) continue;
            const float residual = l.residual[r][c], light = l.log_light[r][c], fine = light - slow[r][c];
            const bool warp_on_top = l.warp_on_top[r][c] != 0;
            sums.add(kResidual, residual);
            sums.add(kResidualSquared, residual * residual);
            sums.add(warp_on_top ? kResidualOnWarp : kResidualOnWeft, residual);
            sums.add(kLight, light);
            sums.add(kLightSquared, light * light);
            sums.add(kFineSquared, fine * fine);
            add_colour(sheet.bgr.ptr<cv::Vec3b>(r)[c], sums);
            if (r > 0 && c > 0 && r + 1 < size.height && c + 1 < size.width)
              add_slopes(warp_on_top ? l.warp : l.weft, smooth, r, c, residual, sums);
          }
        }
        sums.take(blocks, i, j);
      }
    }
  });
  return blocks;
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
  const std::array<Blocks, kChannelCount> blocks = block_sums(sheet, l, block);
  const auto mean = [&](Channel k) { return window_mean(blocks[k], sigma); };
  std::array<cv::Mat1f, kCueCount> raw;
  raw[kAlongGradient] = mean(kAlongCore);
  raw[kAcrossGradient] = mean(kAcrossCore);
  raw[kResidualMean] = mean(kResidual);
  raw[kResidualEnergy] = mean(kResidualSquared);
  raw[kEdgeMean] = mean(kResidualAtEdge);
  raw[kWarpMean] = mean(kResidualOnWarp);
  raw[kWeftMean] = mean(kResidualOnWeft);
  const auto sharp = [&](Channel k) {
    cv::Mat1f own = mean(k);  // where the node itself shows nothing of it
    cv::Mat1f exact;
    cv::divide(blocks[k].sum, cv::max(blocks[k].weight, 1.0), exact);
    exact.copyTo(own, blocks[k].weight > 0);
    return own;
  };
  raw[kSharpMean] = sharp(kResidual);
  raw[kSharpEnergy] = sharp(kResidualSquared);
  raw[kSharpEdge] = sharp(kResidualAtEdge);
  const Blocks& light = blocks[kLight];
  cv::Mat1f block_light;
  cv::divide(light.sum, cv::max(light.weight, 1.0), block_light);
  cv::Mat1f filled = window_mean(light, 2 * sigma);
  block_light.copyTo(filled, light.weight > 0);
  raw[kFloor] = extreme(filled, sigma, true);
  raw[kCeiling] = extreme(filled, sigma, false);
  raw[kFine] = mean(kFineSquared);
  const cv::Mat1f average = mean(kLight);
  raw[kContrast] = mean(kLightSquared) - average.mul(average);
  for (Cue k : {kResidualEnergy, kSharpEnergy, kFine, kContrast, kAlongGradient, kAcrossGradient})
    cv::log(cv::max(raw[k], 1e-6), raw[k]);
  raw[kSaturation] = mean(kColour);
  raw[kRedBlue] = mean(kRedOverBlue);
  cv::GaussianBlur(light.weight / static_cast<double>(block * block), cues.judged, {}, sigma);
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
