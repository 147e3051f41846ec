#include "defects/blocks.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/wide.h"

namespace sheetloupe::defects {
namespace {

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

// A row of a map and the rows above and below.
struct Three {
  const float *above, *here, *below;
  Three(const cv::Mat1f& map, int r)
      : above(map[std::max(r - 1, 0)]), here(map[r]), below(map[std::min(r + 1, map.rows - 1)]) {}
};

// The sums of every column over the rows of one row of blocks.
class ColumnSums {
 public:
  explicit ColumnSums(int columns) : sums_(kRows, columns) {}
  void clear() { sums_ = 0.F; }
  float* of(Channel k) { return sums_[k]; }
  float* count(Group g) { return sums_[int{kChannelCount} + int{g}]; }
  int columns() const { return sums_.cols; }

  void take(Blocks& blocks, int row, int block) const {
    for (int k = 0; k < sums_.rows; ++k) {
      const float* column = sums_[k];
      float* to = k < kChannelCount ? blocks.sum[k][row] : blocks.count[k - kChannelCount][row];
      for (int j = 0; j < sums_.cols / block; ++j) {
        to[j] = 0;
        for (int c = j * block; c < (j + 1) * block; ++c) to[j] += column[c];
      }
    }
  }

 private:
  static constexpr int kRows = int{kChannelCount} + int{kGroupCount};
  cv::Mat1f sums_;
};

// Masks are factors of 0 and 1 from here on, so that many pixels are worked on together.
SHEETLOUPE_WIDE void masks_of(const unsigned char* judged, const unsigned char* warp_on_top, int count, float* seen,
                              float* warp) {
  SHEETLOUPE_APART
  for (int c = 0; c < count; ++c) {
    seen[c] = judged[c] ? 1.F : 0.F;
    warp[c] = warp_on_top[c] ? 1.F : 0.F;
  }
}

struct Light {
  const float *seen, *warp, *residual, *light, *slow;
};

SHEETLOUPE_WIDE void add_light(const Light& at, ColumnSums& sums) {
  float *everywhere = sums.count(kEverywhere), *on_warp = sums.count(kOnWarp), *on_weft = sums.count(kOnWeft),
        *residuals = sums.of(kResidual), *squares = sums.of(kResidualSquared), *of_warp = sums.of(kResidualOnWarp),
        *of_weft = sums.of(kResidualOnWeft), *lights = sums.of(kLight), *light_squares = sums.of(kLightSquared),
        *fine_squares = sums.of(kFineSquared);
  const int columns = sums.columns();
  SHEETLOUPE_APART
  for (int c = 0; c < columns; ++c) {
    const float seen = at.seen[c], warp = seen * at.warp[c], weft = seen - warp;
    const float residual = at.residual[c], light = at.light[c], fine = light - at.slow[c];
    everywhere[c] += seen;
    on_warp[c] += warp;
    on_weft[c] += weft;
    residuals[c] += seen * residual;
    squares[c] += seen * residual * residual;
    of_warp[c] += warp * residual;
    of_weft[c] += weft * residual;
    lights[c] += seen * light;
    light_squares[c] += seen * light * light;
    fine_squares[c] += seen * fine * fine;
  }
}

struct Slopes {
  const float *seen, *on_warp, *residual;
  Three warp, weft, smooth;  // tow counts; the light without pixel noise
};

// Slopes along and across the tow on top, and where on the tow the pixel lies. Not in the first and last column.
SHEETLOUPE_WIDE void add_slopes(const Slopes& at, ColumnSums& sums) {
  float *on_core = sums.count(kOnCore), *at_edge = sums.count(kAtEdge), *across = sums.of(kAcrossCore),
        *along = sums.of(kAlongCore), *edge_residual = sums.of(kResidualAtEdge);
  const Three &warps = at.warp, &wefts = at.weft, &smooth = at.smooth;
  const int last = sums.columns() - 1;
  SHEETLOUPE_APART
  for (int c = 1; c < last; ++c) {
    const float warp = at.on_warp[c], weft = 1 - warp;
    const float here = warp * warps.here[c] + weft * wefts.here[c];
    const float nx = warp * (warps.here[c + 1] - warps.here[c - 1]) + weft * (wefts.here[c + 1] - wefts.here[c - 1]);
    const float ny = warp * (warps.below[c] - warps.above[c]) + weft * (wefts.below[c] - wefts.above[c]);
    const float cut = static_cast<float>(static_cast<int>(here)), whole = cut - static_cast<float>(cut > here);
    const float position = 2 * std::abs(here - whole - 0.5F);  // 0 middle, 1 edge
    const float seen = at.seen[c], core = seen * static_cast<float>(position < 0.5F),
                edge = seen * static_cast<float>(position > 0.75F);
    const float gx = smooth.here[c + 1] - smooth.here[c - 1], gy = smooth.below[c] - smooth.above[c];
    const float per_length = core / std::max(1e-6F, std::sqrt(nx * nx + ny * ny));
    on_core[c] += core;
    across[c] += std::abs(gx * nx + gy * ny) * per_length;
    along[c] += std::abs(gy * nx - gx * ny) * per_length;
    at_edge[c] += edge;
    edge_residual[c] += edge * at.residual[c];
  }
}

// Of every level, 1 / (level + 8): the offset keeps black cloth's noise from ruling.
std::array<float, 256> inverses() {
  std::array<float, 256> of_level{};
  for (std::size_t i = 0; i < of_level.size(); ++i) of_level[i] = 1 / (static_cast<float>(i) + 8.F);
  return of_level;
}

void add_colour(const unsigned char* judged, const cv::Vec3b* bgr, const std::array<float, 256>& log,
                const std::array<float, 256>& inverse, ColumnSums& sums) {
  float *colour = sums.of(kColour), *red_over_blue = sums.of(kRedOverBlue);
  for (int c = 0; c < sums.columns(); ++c) {
    if (!judged[c]) continue;
    const unsigned char blue = bgr[c][0], green = bgr[c][1], red = bgr[c][2];
    const unsigned char least = std::min(std::min(blue, green), red), most = std::max(std::max(blue, green), red);
    colour[c] += static_cast<float>(most - least) * inverse[most];
    red_over_blue[c] += log[red] - log[blue];
  }
}

}  // namespace

Blocks block_sums(const RectifiedSheet& sheet, const Locked& l, int block) {
  static const std::array<float, 256> kInverse = inverses();
  constexpr int kBandBlocks = 16;
  const cv::Size size = l.residual.size();
  const int rows = size.height / block, columns = size.width / block * block;
  Blocks blocks;
  for (cv::Mat1f& sum : blocks.sum) sum.create(size / block);
  for (cv::Mat1f& count : blocks.count) count.create(size / block);
  const auto add_row = [&](const Band& band, int r, cv::Mat1f& masks, ColumnSums& sums) {
    const int i = r - band.from;
    const float* residual = l.residual[r];
    masks_of(l.judged[r], l.warp_on_top[r], columns, masks[0], masks[1]);
    add_light({masks[0], masks[1], residual, band.light[i], band.slow[i]}, sums);
    if (r > 0 && r + 1 < size.height)
      add_slopes({masks[0], masks[1], residual, {band.warp, i}, {band.weft, i}, {band.smooth, i}}, sums);
    add_colour(l.judged[r], sheet.bgr.ptr<cv::Vec3b>(r), l.log_of_level, kInverse, sums);
  };
  cv::parallel_for_(cv::Range(0, (rows + kBandBlocks - 1) / kBandBlocks), [&](const cv::Range& range) {
    cv::Mat1f masks(2, columns);
    ColumnSums sums(columns);
    for (int k = range.start; k < range.end; ++k) {
      const int first = k * kBandBlocks, end = std::min(first + kBandBlocks, rows);
      const Band band(l, first * block, end * block, sheet.mm_per_px);
      for (int i = first; i < end; ++i) {
        sums.clear();
        for (int r = i * block; r < (i + 1) * block; ++r) add_row(band, r, masks, sums);
        sums.take(blocks, i, block);
      }
    }
  });
  return blocks;
}

}  // namespace sheetloupe::defects
