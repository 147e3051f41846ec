#include "defects/reference.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "sheetloupe/median.h"
#include "sheetloupe/wide.h"

namespace sheetloupe::defects {
namespace {

constexpr int kBins = 12;           // a tow's width and length in the repeat
constexpr double kTileTows = 12.0;  // one reference a tile: light changes more slowly than this

// Numbers the bins of the repeat: the place in either tow set, in bins counted through the sheet, leads to one.
class Repeat {
 public:
  Repeat(const Locked& l, const WeavePhase& phase)
      : repeat_(phase.repeat), warp_(steps(l.warp, phase.warp_factor)), weft_(steps(l.weft, phase.weft_factor)) {}

  int count() const { return repeat_ * kBins * kBins; }

  int bin(int warp, int weft) const {
    const Step &s = step(warp_, warp), &t = step(weft_, weft);
    return (cell(s, t) * kBins + s.within) * kBins + t.within;
  }

  // A table of all bins in which those after a cell's last ones follow it once more: a bin and its next ones along the
  // warp, the weft and both then lie at `edged_bin`, + kEdged, + 1 and + kEdged + 1, whatever cell they belong to.
  static constexpr int kEdged = kBins + 1;
  int edged_count() const { return repeat_ * kEdged * kEdged; }
  int edged_bin(int warp, int weft) const {
    const Step &s = step(warp_, warp), &t = step(weft_, weft);
    return (cell(s, t) * kEdged + s.within) * kEdged + t.within;
  }
  void edge(const float* of_bin, float* edged) const {
    for (int k = 0; k < repeat_; ++k) {
      for (int i = 0; i < kEdged; ++i) {
        for (int j = 0; j < kEdged; ++j) {
          const int next = (k + (i == kBins ? warp_.factor : 0) + (j == kBins ? weft_.factor : 0)) % repeat_;
          *edged++ = of_bin[(next * kBins + i % kBins) * kBins + j % kBins];
        }
      }
    }
  }

 private:
  struct Step {
    int cell, within;
  };
  struct Steps {
    int first = 0, factor = 1;
    std::vector<Step> of;
  };

  static const Step& step(const Steps& steps, int bin) { return steps.of[static_cast<std::size_t>(bin - steps.first)]; }

  int cell(const Step& s, const Step& t) const {
    const int sum = s.cell + t.cell;
    return sum < repeat_ ? sum : sum - repeat_;
  }

  Steps steps(const TowCounts& tows, int factor) const {
    const auto [least, most] = tows.range();
    Steps steps;
    steps.factor = factor;
    steps.first = cvFloor(least * kBins) - 1;
    const int last = cvFloor(most * kBins) + 1;
    for (int k = steps.first; k <= last; ++k) {
      const int within = ((k % kBins) + kBins) % kBins;
      const int cell = factor * ((k - within) / kBins);
      steps.of.push_back({((cell % repeat_) + repeat_) % repeat_, within});
    }
    return steps;
  }

  int repeat_;
  Steps warp_, weft_;
};

// Which bin of the repeat every pixel lies in; -1 where not judged.
cv::Mat1s bins_of(const Locked& l, const Repeat& repeat) {
  cv::Mat1s bins(l.grey.size(), short{-1});
  cv::parallel_for_(cv::Range(0, bins.rows), [&](const cv::Range& range) {
    std::vector<float> warp(bins.cols), weft(bins.cols);
    for (int r = range.start; r < range.end; ++r) {
      const unsigned char* judged = l.judged[r];
      l.warp.row(r, warp.data());
      l.weft.row(r, weft.data());
      short* bin = bins[r];
      for (int c = 0; c < bins.cols; ++c) {
        if (judged[c]) bin[c] = static_cast<short>(repeat.bin(cvFloor(warp[c] * kBins), cvFloor(weft[c] * kBins)));
      }
    }
  });
  return bins;
}

SHEETLOUPE_WIDE void between_four(const std::array<const float*, 4>& of, const std::array<float, 4>& share, int count,
                                  float* out) {
  const float *a = of[0], *b = of[1], *c = of[2], *d = of[3];
  for (int k = 0; k < count; ++k) out[k] = share[0] * a[k] + share[1] * b[k] + share[2] * c[k] + share[3] * d[k];
}

// Trimmed means of every bin in every tile; tiles with too few pixels of a bin take the whole sheet's.
class Reference {
 public:
  Reference(const Locked& l, const cv::Mat1s& bins, const Repeat& repeat, double mm_per_px)
      : bin_count_(repeat.count()),
        edged_count_(repeat.edged_count()),
        tile_px_(std::max(32, cvRound(kTileTows * l.tow_mm / mm_per_px))),
        grid_((bins.cols + tile_px_ - 1) / tile_px_, (bins.rows + tile_px_ - 1) / tile_px_) {
    std::vector<Bin> all(static_cast<std::size_t>(grid_.area()) * bin_count_);
    for (int pass = 0; pass < 3; ++pass) accumulate(l, bins, all);
    means_.resize(static_cast<std::size_t>(grid_.area()) * edged_count_);
    std::vector<float> of_bin(bin_count_);
    for (int tile = 0; tile < grid_.area(); ++tile) {
      for (int k = 0; k < bin_count_; ++k) of_bin[k] = all[static_cast<std::size_t>(tile) * bin_count_ + k].mean;
      repeat.edge(of_bin.data(), &means_[static_cast<std::size_t>(tile) * edged_count_]);
    }
  }

  // The reference of every bin about a place, as the repeat's edged table, between those of the four nearest tiles.
  void about(cv::Point px, std::vector<float>& edged) const {
    const auto [i, i2, v] = between(px.y, grid_.height);
    const auto [j, j2, u] = between(px.x, grid_.width);
    between_four({tile(i, j), tile(i, j2), tile(i2, j), tile(i2, j2)},
                 {(1 - v) * (1 - u), (1 - v) * u, v * (1 - u), v * u}, edged_count_, edged.data());
  }

 private:
  // One of a tile: its mean and spread by the last pass, what this pass sums up.
  struct Bin {
    float mean = 0, spread = 1e9F;
    int count = 0;
    double sum = 0, squares = 0;
  };

  // Where a row or a column lies between the middles of two tiles.
  struct Between {
    int low, high;
    float share;  // of `high`
  };
  Between between(int px, int tiles) const {
    const float x = (static_cast<float>(px) + 0.5F) / static_cast<float>(tile_px_) - 0.5F;
    const int low = std::clamp(static_cast<int>(std::floor(x)), 0, std::max(0, tiles - 2));
    return {low, std::min(low + 1, tiles - 1), tiles > 1 ? std::clamp(x - static_cast<float>(low), 0.F, 1.F) : 0.F};
  }

  const float* tile(int i, int j) const {
    return &means_[(static_cast<std::size_t>(i) * grid_.width + j) * edged_count_];
  }

  // Means and spreads of what lies within two spreads of the last means: defects fall out. Tile by tile, whose bins
  // stay in the cache.
  void accumulate(const Locked& l, const cv::Mat1s& bins, std::vector<Bin>& all) const {
    cv::parallel_for_(cv::Range(0, grid_.area()), [&](const cv::Range& tiles) {
      for (int tile = tiles.start; tile < tiles.end; ++tile) {
        Bin* of_tile = &all[static_cast<std::size_t>(tile) * bin_count_];
        for (int k = 0; k < bin_count_; ++k) of_tile[k].count = 0, of_tile[k].sum = of_tile[k].squares = 0;
        const cv::Rect area =
            cv::Rect(tile % grid_.width * tile_px_, tile / grid_.width * tile_px_, tile_px_, tile_px_) &
            cv::Rect({}, bins.size());
        for (int r = area.y; r < area.br().y; ++r) {
          const short* bin = bins[r];
          const unsigned char* grey = l.grey[r];
          for (int c = area.x; c < area.br().x; ++c) {
            if (bin[c] < 0) continue;
            Bin& at = of_tile[bin[c]];
            const float x = l.log_of_level[grey[c]];
            if (std::abs(x - at.mean) > 2 * at.spread) continue;
            at.sum += x;
            at.squares += static_cast<double>(x) * x;
            ++at.count;
          }
        }
      }
    });
    settle(all);
  }

  void settle(std::vector<Bin>& all) const {
    std::vector<double> whole(bin_count_, 0.0);
    std::vector<int> whole_count(bin_count_, 0);
    for (std::size_t k = 0; k < all.size(); ++k) {
      whole[k % bin_count_] += all[k].sum;
      whole_count[k % bin_count_] += all[k].count;
    }
    for (std::size_t k = 0; k < all.size(); ++k) {
      const std::size_t bin = k % bin_count_;
      constexpr int kEnough = 12;
      Bin& at = all[k];
      if (at.count < kEnough) {
        at.mean = whole_count[bin] ? static_cast<float>(whole[bin] / whole_count[bin]) : 0.F;
        at.spread = 0.3F;
        continue;
      }
      const double mean = at.sum / at.count;
      at.mean = static_cast<float>(mean);
      at.spread = std::max(0.05F, static_cast<float>(std::sqrt(std::max(0.0, at.squares / at.count - mean * mean))));
    }
  }

  int bin_count_, edged_count_, tile_px_;
  cv::Size grid_;
  std::vector<float> means_;  // of every tile the edged table
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
      const auto gap = [](int k) { return k < kBins / 6 || k >= kBins - kBins / 6; };
      if (gap(u) || gap(v)) continue;  // says nothing about streaks
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

// Light above the reference: between those of the four nearest bins, for a step at every bin's border would look like a
// flaw. The tiles' share in it hardly changes within some eight px.
cv::Mat1f departure(const Locked& l, const Repeat& repeat, const Reference& reference) {
  constexpr int kBlock = 8;
  cv::Mat1f out(l.judged.size(), 0.F);
  cv::parallel_for_(cv::Range(0, (out.rows + kBlock - 1) / kBlock), [&](const cv::Range& range) {
    std::vector<float> edged(repeat.edged_count());
    for (int block = range.start; block < range.end; ++block) {
      const cv::Range rows(block * kBlock, std::min((block + 1) * kBlock, out.rows));
      const cv::Mat1f warps = l.warp.rows(rows), wefts = l.weft.rows(rows);
      for (int left = 0; left < out.cols; left += kBlock) {
        const cv::Rect here(left, rows.start, std::min(kBlock, out.cols - left), rows.size());
        if (cv::countNonZero(l.judged(here)) == 0) continue;
        reference.about(here.tl() + cv::Point(kBlock, kBlock) / 2, edged);
        for (int r = rows.start; r < rows.end; ++r) {
          const unsigned char *judged = l.judged[r], *grey = l.grey[r];
          const float *warp = warps[r - rows.start], *weft = wefts[r - rows.start];
          float* to = out[r];
          for (int c = here.x; c < here.br().x; ++c) {
            if (!judged[c]) continue;
            const float s = warp[c] * kBins - 0.5F, t = weft[c] * kBins - 0.5F;
            const int i = cvFloor(s), j = cvFloor(t);
            const float u = s - static_cast<float>(i), v = t - static_cast<float>(j);
            const float* at = &edged[static_cast<std::size_t>(repeat.edged_bin(i, j))];
            const float *next = at + Repeat::kEdged,
                        usual = (1 - u) * ((1 - v) * at[0] + v * at[1]) + u * ((1 - v) * next[0] + v * next[1]);
            to[c] = l.log_of_level[grey[c]] - usual;
          }
        }
      }
    }
  });
  return out;
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
  const Repeat repeat(l, phase);
  const cv::Mat1s bins = bins_of(l, repeat);
  l.residual = departure(l, repeat, Reference(l, bins, repeat, sheet.mm_per_px));
  l.unusual = in_spreads(l.residual, bins, spread_of(l, bins, repeat.count()), sheet.mm_per_px);
  cv::resize(l.log_light(cv::Range(0, l.grey.rows)), l.half_light, {}, 0.5, 0.5, cv::INTER_AREA);
  cv::resize(l.residual, l.half_residual, {}, 0.5, 0.5, cv::INTER_AREA);
  find_tops(l, phase, bins);
  return l;
}

}  // namespace sheetloupe::defects
