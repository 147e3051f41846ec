#include "defects/reference.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <utility>
#include <vector>

#include "sheetloupe/median.h"

namespace sheetloupe::defects {
namespace {

constexpr int kBins = 6;            // a tow's width and length in the repeat
constexpr double kTileTows = 12.0;  // one reference a tile: light changes more slowly than this

// Which bin of the repeat every pixel lies in; -1 where not judged.
cv::Mat1s bins_of(const Locked& l, const WeavePhase& phase) {
  cv::Mat1s bins(l.grey.size(), short{-1});
  cv::parallel_for_(cv::Range(0, bins.rows), [&](const cv::Range& range) {
    std::vector<float> warp(bins.cols), weft(bins.cols);
    for (int r = range.start; r < range.end; ++r) {
      const unsigned char* judged = l.judged[r];
      l.warp.row(r, warp.data());
      l.weft.row(r, weft.data());
      short* bin = bins[r];
      int last_s = 0, last_t = 0, k = 0;  // a cell is some 20 px wide: its place in the repeat is kept from px to px
      for (int c = 0; c < bins.cols; ++c) {
        if (!judged[c]) continue;
        const float s = warp[c], t = weft[c];
        const int whole_s = cvFloor(s), whole_t = cvFloor(t);
        if (whole_s != last_s || whole_t != last_t) {
          last_s = whole_s, last_t = whole_t;
          const int cell = phase.warp_factor * whole_s + phase.weft_factor * whole_t;
          k = ((cell % phase.repeat) + phase.repeat) % phase.repeat;
        }
        const int u = std::min(kBins - 1, static_cast<int>((s - static_cast<float>(whole_s)) * kBins)),
                  v = std::min(kBins - 1, static_cast<int>((t - static_cast<float>(whole_t)) * kBins));
        bin[c] = static_cast<short>((k * kBins + u) * kBins + v);
      }
    }
  });
  return bins;
}

// Trimmed means of every bin in every tile; tiles with too few pixels of a bin take the whole sheet's.
class Reference {
 public:
  Reference(const Locked& l, const cv::Mat1s& bins, int bin_count, double mm_per_px)
      : bin_count_(bin_count),
        tile_px_(std::max(32, cvRound(kTileTows * l.tow_mm / mm_per_px))),
        grid_((bins.cols + tile_px_ - 1) / tile_px_, (bins.rows + tile_px_ - 1) / tile_px_) {
    means_.assign(static_cast<std::size_t>(grid_.area()) * bin_count_, 0.F);
    std::vector<float> spread(means_.size(), 1e9F);
    for (int pass = 0; pass < 3; ++pass) accumulate(l, bins, spread);
  }

  // Where a row or a column lies between the middles of two tiles.
  struct Between {
    int low, high;
    float share;  // of `high`
  };
  Between row(int at) const { return between(at, grid_.height); }
  std::vector<Between> columns(int count) const {
    std::vector<Between> all;
    for (int c = 0; c < count; ++c) all.push_back(between(c, grid_.width));
    return all;
  }

  // The means of all bins in the four tiles around a place.
  class Around {
   public:
    Around(const Reference& of, const Between& row, const Between& column)
        : v_(row.share),
          a_(of.tile(row.low, column.low)),
          b_(of.tile(row.low, column.high)),
          c_(of.tile(row.high, column.low)),
          d_(of.tile(row.high, column.high)) {}
    float at(float u, int bin) const {
      return (1 - v_) * ((1 - u) * a_[bin] + u * b_[bin]) + v_ * ((1 - u) * c_[bin] + u * d_[bin]);
    }

   private:
    float v_;
    const float *a_, *b_, *c_, *d_;
  };

 private:
  Between between(int px, int tiles) const {
    const float x = (static_cast<float>(px) + 0.5F) / static_cast<float>(tile_px_) - 0.5F;
    const int low = std::clamp(static_cast<int>(std::floor(x)), 0, std::max(0, tiles - 2));
    return {low, std::min(low + 1, tiles - 1), tiles > 1 ? std::clamp(x - static_cast<float>(low), 0.F, 1.F) : 0.F};
  }

  const float* tile(int i, int j) const {
    return &means_[(static_cast<std::size_t>(i) * grid_.width + j) * bin_count_];
  }

  // Means and spreads of what lies within two spreads of the last means: defects fall out.
  void accumulate(const Locked& l, const cv::Mat1s& bins, std::vector<float>& spread) {
    std::vector<double> sum(means_.size(), 0.0), squares(means_.size(), 0.0);
    std::vector<int> count(means_.size(), 0);
    for (int r = 0; r < bins.rows; r += 2) {
      const short* bin = bins[r];
      const unsigned char* grey = l.grey[r];
      std::size_t tile = static_cast<std::size_t>(r / tile_px_) * grid_.width * bin_count_;
      for (int from = 0; from < bins.cols; from += tile_px_, tile += bin_count_) {
        for (int c = from + from % 2; c < std::min(from + tile_px_, bins.cols); c += 2) {
          if (bin[c] < 0) continue;
          const std::size_t at = tile + bin[c];
          const float x = l.log_of_level[grey[c]];
          if (std::abs(x - means_[at]) > 2 * spread[at]) continue;
          sum[at] += x;
          squares[at] += static_cast<double>(x) * x;
          ++count[at];
        }
      }
    }
    std::vector<double> whole(bin_count_, 0.0);
    std::vector<int> whole_count(bin_count_, 0);
    for (std::size_t k = 0; k < sum.size(); ++k) {
      whole[k % bin_count_] += sum[k];
      whole_count[k % bin_count_] += count[k];
    }
    for (std::size_t k = 0; k < sum.size(); ++k) {
      const std::size_t bin = k % bin_count_;
      constexpr int kEnough = 12;
      if (count[k] < kEnough) {
        means_[k] = whole_count[bin] ? static_cast<float>(whole[bin] / whole_count[bin]) : 0.F;
        spread[k] = 0.3F;
        continue;
      }
      means_[k] = static_cast<float>(sum[k] / count[k]);
      spread[k] = std::max(
          0.05F, static_cast<float>(std::sqrt(std::max(0.0, squares[k] / count[k] - std::pow(sum[k] / count[k], 2)))));
    }
  }

  int bin_count_, tile_px_;
  cv::Size grid_;
  std::vector<float> means_;
};

std::array<float, 256> logarithms() {
  cv::Mat1f of_level(1, 256);
  for (int level = 0; level < of_level.cols; ++level) of_level(level) = static_cast<float>(level) + 8.F;
  cv::log(of_level, of_level);
  std::array<float, 256> all{};
  std::copy(of_level.begin(), of_level.end(), all.begin());
  return all;
}

// A picture of what belongs to every pixel's bin; `nowhere` where not judged.
template <typename T>
cv::Mat_<T> laid_out(const cv::Mat1s& bins, const std::vector<T>& of_bin, T nowhere) {
  cv::Mat_<T> map(bins.size());
  for (int r = 0; r < bins.rows; ++r) {
    const short* bin = bins[r];
    T* out = map[r];
    for (int c = 0; c < bins.cols; ++c) out[c] = bin[c] >= 0 ? of_bin[static_cast<std::size_t>(bin[c])] : nowhere;
  }
  return map;
}

// A cell whose tow on top runs along the warp shows fibre streaks: brightness changes fast across the warp and slowly
// along it. The cells' ratios fall into two groups, parted at the widest gap that leaves both non-empty.
void find_tops(Locked& l, const WeavePhase& phase, const cv::Mat1s& bins) {
  std::vector<double> across_warp(phase.repeat, 0.0), along_warp(phase.repeat, 0.0);
  for (int r = 2; r + 2 < bins.rows; r += 5) {
    const cv::Mat1f warp = l.warp.rows({r - 1, r + 2});
    for (int c = 2; c + 2 < bins.cols; c += 3) {
      if (bins(r, c) < 0) continue;
      const int u = bins(r, c) / kBins % kBins, v = bins(r, c) % kBins;
      if (u == 0 || u == kBins - 1 || v == 0 || v == kBins - 1) continue;  // gaps say nothing about streaks
      // The warp's count grows across the warp.
      const cv::Vec2f normal(warp(1, c + 1) - warp(1, c - 1), warp(2, c) - warp(0, c));
      const float length = std::max(1e-6F, static_cast<float>(cv::norm(normal)));
      const float gx = 0.5F * (l.log_light(r, c + 1) - l.log_light(r, c - 1)),
                  gy = 0.5F * (l.log_light(r + 1, c) - l.log_light(r - 1, c));
      const float across = (gx * normal[0] + gy * normal[1]) / length;
      const float along = (gy * normal[0] - gx * normal[1]) / length;
      const int k = bins(r, c) / (kBins * kBins);
      across_warp[k] += across * across;
      along_warp[k] += along * along;
    }
  }
  std::vector<double> ratio(phase.repeat), sorted;
  for (int k = 0; k < phase.repeat; ++k) ratio[k] = std::log((across_warp[k] + 1e-9) / (along_warp[k] + 1e-9));
  sorted = ratio;
  std::sort(sorted.begin(), sorted.end());
  double cut = sorted[0], widest = -1;
  for (std::size_t k = 0; k + 1 < sorted.size(); ++k) {
    if (sorted[k + 1] - sorted[k] > widest) widest = sorted[k + 1] - sorted[k], cut = 0.5 * (sorted[k] + sorted[k + 1]);
  }
  std::vector<unsigned char> warp_in_bin;
  for (int bin = 0; bin < phase.repeat * kBins * kBins; ++bin)
    warp_in_bin.push_back(ratio[bin / (kBins * kBins)] > cut ? 255 : 0);
  l.warp_on_top = laid_out<unsigned char>(bins, warp_in_bin, 0);
}

// Robust scatter of the residual in every bin over the whole sheet.
std::vector<float> spread_of(const Locked& l, const cv::Mat1s& bins, int bin_count) {
  std::vector<std::vector<float>> sizes(bin_count);
  for (int r = 0; r < bins.rows; r += 5) {
    const short* bin = bins[r];
    const float* residual = l.residual[r];
    for (int c = r % 2; c < bins.cols; c += 3) {
      if (bin[c] >= 0) sizes[bin[c]].push_back(std::abs(residual[c]));
    }
  }
  std::vector<float> spread(bin_count, 0.1F);
  for (int k = 0; k < bin_count; ++k) {
    if (sizes[k].size() < 30) continue;
    spread[k] = std::max(0.01F, 1.4826F * median(sizes[k]));
  }
  return spread;
}

// The residual in units of its bin's scatter: gaps and tow edges scatter several times more than the middle of a float.
// The border between two bins is smoothed over. Band by band, which keeps the scatter's picture in the cache.
cv::Mat1f in_spreads(const cv::Mat1f& residual, const cv::Mat1s& bins, const std::vector<float>& spread,
                     double mm_per_px) {
  constexpr int kBandRows = 64;
  const double sigma = 0.15 / mm_per_px;
  const int margin = cvCeil(4 * sigma) + 1;  // OpenCV's kernel for floats ends there
  cv::Mat1f unusual(residual.size());
  const int bands = (residual.rows + kBandRows - 1) / kBandRows;
  cv::parallel_for_(cv::Range(0, bands), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const int from = i * kBandRows, to = std::min(from + kBandRows, residual.rows);
      const int above = std::max(0, from - margin), below = std::min(to + margin, residual.rows);
      const cv::Mat1f laid = laid_out<float>(bins.rowRange(above, below), spread, 0.1F);
      cv::Mat1f smooth;
      cv::GaussianBlur(laid.rowRange(from - above, to - above), smooth, {}, sigma);
      cv::Mat1f band = unusual.rowRange(from, to);
      cv::divide(residual.rowRange(from, to), smooth, band);
      for (int r = 0; r < band.rows; ++r) {
        for (int c = 0; c < band.cols; ++c) band(r, c) = std::min(std::max(band(r, c), -8.F), 8.F);
      }
    }
  });
  return unusual;
}

}  // namespace

TowCounts::TowCounts(const cv::Mat& field, const WeavePhase& phase, const RectifiedSheet& sheet) : nodes_(field) {
  const double k = sheet.mm_per_px / phase.step_mm;
  const auto places = [k](int pixels, double from, int count) {
    Places all;
    for (int px = 0; px < pixels; ++px) {
      const double at = (px + 0.5) * k + from - 0.5;
      const int node = std::clamp(static_cast<int>(std::floor(at)), 0, count - 2);
      all.node.push_back(node);
      all.share.push_back(static_cast<float>(at - node));
    }
    return all;
  };
  columns_ = places(sheet.bgr.cols, (sheet.origin.x - phase.origin.x) / phase.step_mm, nodes_.cols);
  rows_ = places(sheet.bgr.rows, (sheet.origin.y - phase.origin.y) / phase.step_mm, nodes_.rows);
}

namespace {

struct Corners {
  float a, b, c, d;  // of the nodes around: above left and right, below left and right
};

float between(const Corners& at, float u, float v) {
  return (1 - v) * ((1 - u) * at.a + u * at.b) + v * ((1 - u) * at.c + u * at.d);
}

}  // namespace

void TowCounts::row(int r, float* to) const {
  const int i = rows_.node[r];
  const float v = rows_.share[r];
  const float *above = nodes_[i], *below = nodes_[i + 1], *share = columns_.share.data();
  const int count = static_cast<int>(columns_.node.size());
  // From node to node, some ten px: what is told by the nodes stays the same between them.
  for (int first = 0, end = 0; first < count; first = end) {
    const int j = columns_.node[first];
    while (end < count && columns_.node[end] == j) ++end;
    const Corners corners{above[j], above[j + 1], below[j], below[j + 1]};
    for (int px = first; px < end; ++px) to[px] = between(corners, share[px], v);
  }
}

cv::Mat1f TowCounts::rows(const cv::Range& range) const {
  cv::Mat1f some(range.size(), static_cast<int>(columns_.node.size()));
  for (int r = range.start; r < range.end; ++r) row(r, some[r - range.start]);
  return some;
}

float TowCounts::at(cv::Point px) const {
  const int i = rows_.node[px.y], j = columns_.node[px.x];
  const float v = rows_.share[px.y], u = columns_.share[px.x];
  const float *above = nodes_[i], *below = nodes_[i + 1];
  return between({above[j], above[j + 1], below[j], below[j + 1]}, u, v);
}

cv::Mat1f Locked::log_light(const cv::Range& rows) const {
  const cv::Mat1f of_level(1, 256, const_cast<float*>(log_of_level.data()));
  cv::Mat light;
  cv::LUT(grey.rowRange(rows), of_level, light);
  return light;
}

Locked lock(const RectifiedSheet& sheet, const WeaveAnalysis& weave) {
  const WeavePhase& phase = *weave.phase;
  Locked l;
  l.tow_mm = 0.5 * (weave.warp_pitch.value() + weave.weft_pitch.value());
  cv::cvtColor(sheet.bgr, l.grey, cv::COLOR_BGR2GRAY);
  l.log_of_level = logarithms();
  l.judged = sheet.cloth & ~sheet.glare;
  l.warp = TowCounts(phase.warp_count, phase, sheet);
  l.weft = TowCounts(phase.weft_count, phase, sheet);
  const cv::Mat1s bins = bins_of(l, phase);
  const Reference reference(l, bins, phase.repeat * kBins * kBins, sheet.mm_per_px);
  l.residual = cv::Mat1f(bins.size(), 0.F);
  const std::vector<Reference::Between> columns = reference.columns(bins.cols);
  cv::parallel_for_(cv::Range(0, bins.rows), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      const Reference::Between row = reference.row(r);
      const short* bin = bins[r];
      const unsigned char* grey = l.grey[r];
      float* residual = l.residual[r];
      for (int first = 0, end = 0; first < bins.cols; first = end) {
        while (end < bins.cols && columns[end].low == columns[first].low) ++end;
        const Reference::Around around(reference, row, columns[first]);
        for (int c = first; c < end; ++c) {
          if (bin[c] >= 0) residual[c] = l.log_of_level[grey[c]] - around.at(columns[c].share, bin[c]);
        }
      }
    }
  });
  l.unusual = in_spreads(l.residual, bins, spread_of(l, bins, phase.repeat * kBins * kBins), sheet.mm_per_px);
  find_tops(l, phase, bins);
  return l;
}

}  // namespace sheetloupe::defects
