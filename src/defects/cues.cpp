#include "defects/cues.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/median.h"

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

// Which pixels a channel sums over.
enum Group { kEverywhere, kOnCore, kAtEdge, kOnWarp, kOnWeft, kGroupCount };

constexpr std::array<Group, kChannelCount> kGroupOf = {kOnCore,     kOnCore,     kEverywhere, kEverywhere,
                                                       kAtEdge,     kOnWarp,     kOnWeft,     kEverywhere,
                                                       kEverywhere, kEverywhere, kEverywhere, kEverywhere};

// Sums over blocks of pixels: of every channel, and how many pixels of its group were there.
struct Blocks {
  std::array<cv::Mat1f, kChannelCount> sum;
  std::array<cv::Mat1f, kGroupCount> count;
  const cv::Mat1f& count_of(Channel k) const { return count[kGroupOf[k]]; }
};

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

// The sums of one block, pixel by pixel.
class Sums {
 public:
  void add(Channel k, float value) { sum_[k] += value; }
  void count(Group g) { count_[g] += 1; }
  void take(Blocks& blocks, int r, int c) const {
    for (std::size_t k = 0; k < kChannelCount; ++k) blocks.sum[k](r, c) = sum_[k];
    for (std::size_t g = 0; g < kGroupCount; ++g) blocks.count[g](r, c) = count_[g];
  }

 private:
  std::array<float, kChannelCount> sum_{};
  std::array<float, kGroupCount> count_{};
};

// The rows of the maps that the sums are taken of, and the rows above and below.
struct Rows {
  struct Three {
    const float *above, *here, *below;
    Three(const cv::Mat1f& map, int r)
        : above(map[std::max(r - 1, 0)]), here(map[r]), below(map[std::min(r + 1, map.rows - 1)]) {}
  };
  const unsigned char *judged, *warp_on_top;
  const cv::Vec3b* bgr;
  const float *residual, *light, *slow;
  Three warp, weft, smooth;  // the light without pixel noise
};

// Slopes along and across the tow on top, and where on the tow the pixel lies. `count`: warp or weft, whichever is on
// top.
void add_slopes(const Rows::Three& count, const Rows::Three& smooth, int c, float residual, Sums& sums) {
  const float here = count.here[c];
  const float position = 2 * std::abs(here - static_cast<float>(cvFloor(here)) - 0.5F);  // 0 middle, 1 edge
  if (position < 0.5F) {
    const float nx = count.here[c + 1] - count.here[c - 1], ny = count.below[c] - count.above[c];
    const float gx = smooth.here[c + 1] - smooth.here[c - 1], gy = smooth.below[c] - smooth.above[c];
    const float per_length = 1 / std::max(1e-6F, std::sqrt(nx * nx + ny * ny));
    sums.count(kOnCore);
    sums.add(kAcrossCore, std::abs(gx * nx + gy * ny) * per_length);
    sums.add(kAlongCore, std::abs(gy * nx - gx * ny) * per_length);
  } else if (position > 0.75F) {
    sums.count(kAtEdge);
    sums.add(kResidualAtEdge, residual);
  }
}

// Of every level, log(level + 8) and 1 / (level + 8): the offset keeps black cloth's noise from ruling.
struct LevelTables {
  std::array<float, 256> log{}, inverse{};
  LevelTables() {
    for (std::size_t i = 0; i < log.size(); ++i) {
      log[i] = std::log(static_cast<float>(i) + 8.F);
      inverse[i] = 1 / (static_cast<float>(i) + 8.F);
    }
  }
};

void add_colour(const cv::Vec3b& bgr, const LevelTables& of, Sums& sums) {
  const auto [least, most] = std::minmax({bgr[0], bgr[1], bgr[2]});
  sums.add(kColour, static_cast<float>(most - least) * of.inverse[most]);
  sums.add(kRedOverBlue, of.log[bgr[2]] - of.log[bgr[0]]);
}

// What is worked out of some rows and the next ones above and below: small enough to stay in the cache.
struct Band {
  cv::Mat1f light, smooth, slow, warp, weft;  // logarithm of the light, twice smoothed; tow counts
  int from;                                   // the picture's row that lies first in all

  Band(const Locked& l, int first, int end, double mm_per_px) : from(std::max(first - 1, 0)) {
    const double fine = 0.12 / mm_per_px, coarse = 0.16 / mm_per_px;
    const int to = std::min(end + 1, l.grey.rows);
    const int margin = cvCeil(4 * coarse) + 1;  // OpenCV's kernels for floats end there
    const int above = std::max(0, from - margin), below = std::min(to + margin, l.grey.rows);
    const cv::Mat1f wide = l.log_light(cv::Range(above, below));
    light = wide.rowRange(from - above, to - above);
    cv::GaussianBlur(light, smooth, {}, fine);
    cv::GaussianBlur(light, slow, {}, coarse);
    warp = l.warp.rows({from, to});
    weft = l.weft.rows({from, to});
  }
};

// One pass over the picture.
Blocks block_sums(const RectifiedSheet& sheet, const Locked& l, int block) {
  static const LevelTables kLevels;
  constexpr int kBandBlocks = 16;
  const cv::Size size = l.residual.size();
  Blocks blocks;
  for (cv::Mat1f& sum : blocks.sum) sum.create(size / block);
  for (cv::Mat1f& count : blocks.count) count.create(size / block);
  const auto add_pixel = [&](const Rows& at, int c, bool inside, Sums& sums) {
    const float residual = at.residual[c], light = at.light[c], fine = light - at.slow[c];
    const bool warp_on_top = at.warp_on_top[c] != 0;
    sums.count(kEverywhere);
    sums.count(warp_on_top ? kOnWarp : kOnWeft);
    sums.add(kResidual, residual);
    sums.add(kResidualSquared, residual * residual);
    sums.add(warp_on_top ? kResidualOnWarp : kResidualOnWeft, residual);
    sums.add(kLight, light);
    sums.add(kLightSquared, light * light);
    sums.add(kFineSquared, fine * fine);
    add_colour(at.bgr[c], kLevels, sums);
    if (inside) add_slopes(warp_on_top ? at.warp : at.weft, at.smooth, c, residual, sums);
  };
  const auto add_row = [&](const Band& band, int r, std::vector<Sums>& row) {
    const int i = r - band.from;
    const Rows at{l.judged[r],    l.warp_on_top[r], sheet.bgr.ptr<cv::Vec3b>(r),
                  l.residual[r],  band.light[i],    band.slow[i],
                  {band.warp, i}, {band.weft, i},   {band.smooth, i}};
    const bool row_inside = r > 0 && r + 1 < size.height;
    for (int j = 0; j < size.width / block; ++j) {
      for (int c = j * block; c < (j + 1) * block; ++c) {
        if (at.judged[c]) add_pixel(at, c, row_inside && c > 0 && c + 1 < size.width, row[j]);
      }
    }
  };
  const int rows = size.height / block;
  cv::parallel_for_(cv::Range(0, (rows + kBandBlocks - 1) / kBandBlocks), [&](const cv::Range& range) {
    for (int k = range.start; k < range.end; ++k) {
      const int first = k * kBandBlocks, end = std::min(first + kBandBlocks, rows);
      const Band band(l, first * block, end * block, sheet.mm_per_px);
      for (int i = first; i < end; ++i) {
        std::vector<Sums> row(static_cast<std::size_t>(size.width / block));
        for (int r = i * block; r < (i + 1) * block; ++r) add_row(band, r, row);
        for (std::size_t j = 0; j < row.size(); ++j) row[j].take(blocks, i, static_cast<int>(j));
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
