#include "defects/pinholes.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/median.h"
#include "sheetloupe/wide.h"

namespace sheetloupe::defects {
namespace {

constexpr std::array<double, 5> kDiametersMm = {0.3, 0.45, 0.7, 1.1, 1.7};

cv::Point along(double degrees, double length_px) {
  const double a = degrees * CV_PI / 180;
  return {cvRound(std::cos(a) * length_px), cvRound(-std::sin(a) * length_px)};
}

enum class Sign { dark, either };

// One size of disc on every pixel. It is darker, or also brighter, by as much as it differs from both pairs of its
// flanks along warp and along weft: a streak or a gap is as dark on two of its flanks, so it cancels.
class Discs {
 public:
  Discs(const cv::Mat1f& picture, double diameter_px, double warp_deg, double weft_deg) {
    const double spread = diameter_px / 3.2, reach = diameter_px / 2 + 2 * std::max(0.8, spread);
    warp_ = along(warp_deg, reach);
    weft_ = along(weft_deg, reach);
    margin_ = cvCeil(reach) + 1;  // the picture's border repeats beyond it
    means_.create(picture.rows + 2 * margin_, picture.cols + 2 * margin_);
    cv::Mat inner = means_(cv::Rect({margin_, margin_}, picture.size()));
    cv::GaussianBlur(picture, inner, {}, std::max(0.6, spread));
    cv::copyMakeBorder(inner, means_, margin_, margin_, margin_, margin_, cv::BORDER_REPLICATE | cv::BORDER_ISOLATED);
  }

  struct Row {
    const float *here, *w1, *w2, *t1, *t2;
    float dark(int c) const { return std::min(std::min(w1[c], w2[c]), std::min(t1[c], t2[c])) - here[c]; }
    float bright(int c) const { return here[c] - std::max(std::max(w1[c], w2[c]), std::max(t1[c], t2[c])); }
  };
  Row row(int r) const {
    const auto at = [&](cv::Point by) { return means_[r + margin_ + by.y] + margin_ + by.x; };
    return {at({0, 0}), at(warp_), at(-warp_), at(weft_), at(-weft_)};
  }

 private:
  cv::Point warp_, weft_;
  int margin_ = 0;
  cv::Mat1f means_;
};

double mad_scale(std::vector<float> values) {
  if (values.size() < 100) return 1.0;
  const float middle = median(values);
  for (float& v : values) v = std::abs(v - middle);
  return std::max(1.4826 * median(values), 1e-6);
}

// A size's discs and one over the sheet's own scatter of each sign, told by every fifth pixel of every fifth row.
struct Size {
  Discs discs;
  float per_dark = 0.F, per_bright = 0.F;

  Size(Discs of, const cv::Mat1b& judged, Sign sign) : discs(std::move(of)) {
    std::vector<float> dark, bright;
    for (int r = 0; r < judged.rows; r += 5) {
      const Discs::Row row = discs.row(r);
      const unsigned char* where = judged[r];
      for (int c = 0; c < judged.cols; c += 5) {
        if (!where[c]) continue;
        dark.push_back(row.dark(c));
        if (sign == Sign::either) bright.push_back(row.bright(c));
      }
    }
    per_dark = static_cast<float>(1 / mad_scale(std::move(dark)));
    if (sign == Sign::either) per_bright = static_cast<float>(1 / mad_scale(std::move(bright)));
  }
};

SHEETLOUPE_WIDE void raise_to_dark(const Discs::Row& row, float per_dark, int count, float* best) {
  SHEETLOUPE_APART
  for (int c = 0; c < count; ++c) best[c] = std::max(best[c], row.dark(c) * per_dark);
}

// By itself: both signs in one loop share comparisons, and GCC then works out one pixel after the other.
SHEETLOUPE_WIDE void raise_to_bright(const Discs::Row& row, float per_bright, int count, float* best) {
  SHEETLOUPE_APART
  for (int c = 0; c < count; ++c) best[c] = std::max(best[c], row.bright(c) * per_bright);
}

// Every place's contrast in units of the sheet's scatter, where it is larger than what is there.
void raise(cv::Mat1f& best, const Size& size, Sign sign) {
  cv::parallel_for_(cv::Range(0, best.rows), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      const Discs::Row row = size.discs.row(r);
      raise_to_dark(row, size.per_dark, best.cols, best[r]);
      if (sign == Sign::either) raise_to_bright(row, size.per_bright, best.cols, best[r]);
    }
  });
}

cv::Mat halved(const cv::Mat& picture, int interpolation) {
  cv::Mat half;
  cv::resize(picture, half, {(picture.cols + 1) / 2, (picture.rows + 1) / 2}, 0, 0, interpolation);
  return half;
}

// The largest standardised contrast over the sizes, not below zero. A disc of seven px and more is as well judged on
// every second one. One size after the other, so that their pictures take the same memory.
cv::Mat1f scores(const Locked& l, double mm_per_px, double warp_deg, double weft_deg, double least_px, Sign sign) {
  constexpr double kCoarsePx = 7.0;
  std::vector<double> fine, coarse;
  for (const double d : kDiametersMm) {
    const double px = d / mm_per_px;
    if (px >= 0.5 * least_px) (px < kCoarsePx ? fine : coarse).push_back(px);
  }
  cv::Mat1f best(l.unusual.size(), 0.F);
  if (!coarse.empty()) {
    const cv::Mat1f unusual = halved(l.unusual, cv::INTER_AREA);
    const cv::Mat1b judged = halved(l.judged, cv::INTER_NEAREST);
    cv::Mat1f half(unusual.size(), 0.F);
    for (const double px : coarse) raise(half, Size(Discs(unusual, px / 2, warp_deg, weft_deg), judged, sign), sign);
    cv::resize(half, best, best.size(), 0, 0, cv::INTER_LINEAR);
  }
  for (const double px : fine) raise(best, Size(Discs(l.unusual, px, warp_deg, weft_deg), l.judged, sign), sign);
  return best;
}

struct Peak {
  cv::Point at;
  double score = 0.0;
};

// Places that no other within four pixels exceeds, best first.
std::vector<Peak> peaks(const cv::Mat1f& score, const cv::Mat1b& judged, float least) {
  constexpr int kReach = 4;
  const cv::Mat1b disc = cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * kReach + 1, 2 * kReach + 1});
  std::vector<std::ptrdiff_t> around;
  for (int r = -kReach; r <= kReach; ++r) {
    for (int c = -kReach; c <= kReach; ++c) {
      if (disc(r + kReach, c + kReach)) around.push_back(r * static_cast<std::ptrdiff_t>(score.step1()) + c);
    }
  }
  // The next ones first: they rule most places out.
  std::stable_sort(around.begin(), around.end(), [](auto a, auto b) { return std::abs(a) < std::abs(b); });
  std::vector<Peak> list;
  for (int r = kReach; r + kReach < score.rows; ++r) {
    const float* here = score[r];
    const unsigned char* where = judged[r];
    for (int c = kReach; c + kReach < score.cols; ++c) {
      if (!where[c] || !(here[c] > least)) continue;
      const float* at = here + c;
      if (std::all_of(around.begin(), around.end(), [at](std::ptrdiff_t by) { return *at >= at[by]; }))
        list.push_back({{c, r}, *at});
    }
  }
  std::sort(list.begin(), list.end(), [](const Peak& a, const Peak& b) { return a.score > b.score; });
  return list;
}

// Exponential tail of the scores between what 2 % and 0.2 % of the peaks exceed, where pinholes are still rare; the
// mean excess is corrected for the cut at the upper end by iteration. On nine sheets of sound cloth under noise two
// false finds asked gave 1.6, eight gave 6. A Gaussian field's peaks (exponential in score^2) would fall faster than
// cloth does: fitted from 20 % to 2.5 % that gave 6 for two.
struct Tail {
  double from = 0.0, scale = 1.0, count = 0.0;
  double expected_above(double score) const { return count * std::exp(-(score - from) / scale); }
  double threshold(double expected) const { return from + scale * std::log(std::max(count / expected, 1.0)); }
};

Tail tail_of(const std::vector<Peak>& sorted) {
  Tail tail;
  const auto n = static_cast<double>(sorted.size());
  constexpr double kShare = 0.02, kRarest = 0.002;
  if (n < 2000) return {5.5, 0.7, n};  // under some 35 peaks to fit: a cautious tail
  const auto exceeded_by = [&](double share) { return sorted[static_cast<std::size_t>(share * (n - 1))].score; };
  tail.from = exceeded_by(kShare);
  const double upper = exceeded_by(kRarest);
  double sum = 0, count = 0;
  for (const Peak& p : sorted) {
    if (p.score < tail.from || p.score > upper) continue;
    sum += p.score - tail.from;
    count += 1;
  }
  // Truncated exponential: mean = scale - w e^(-w/scale) / (1 - e^(-w/scale)).
  const double width = upper - tail.from, mean = sum / std::max(count, 1.0);
  tail.scale = mean;
  for (int i = 0; i < 60; ++i) {
    const double e = std::exp(-width / tail.scale);
    tail.scale = mean + width * e / std::max(1 - e, 1e-9);
  }
  tail.count = kShare * n;
  return tail;
}

// What is judged less a rim, which would look like an edge.
cv::Mat1b inner_part(const Locked& l) {
  cv::Mat1b inner;
  cv::erode(l.judged, inner, cv::getStructuringElement(cv::MORPH_ELLIPSE, {9, 9}));
  return inner;
}

}  // namespace

void measure_pinhole(const Locked& l, double mm_per_px, PinholeFind& find) {
  const int reach = std::max(4, cvRound(1.4 / mm_per_px));
  const cv::Rect window =
      cv::Rect(find.at.x - reach, find.at.y - reach, 2 * reach + 1, 2 * reach + 1) & cv::Rect({}, l.residual.size());
  cv::Mat1f around = l.residual(window).clone();
  cv::GaussianBlur(around, around, {}, 0.7);
  const cv::Point middle = find.at - window.tl();
  const cv::Rect core = cv::Rect(middle.x - 2, middle.y - 2, 5, 5) & cv::Rect({}, around.size());
  double lowest = 0, highest = 0;
  cv::Point low, high;
  cv::minMaxLoc(around(core), &lowest, &highest, &low, &high);
  const bool dark = -lowest >= highest;  // a pit is dark, or filled with white
  const cv::Mat1b deep = dark ? cv::Mat1b(around < 0.5 * lowest) : cv::Mat1b(around > 0.5 * highest);
  cv::Mat1i labels;
  cv::connectedComponents(deep, labels, 4);
  const int own = labels((dark ? low : high) + core.tl());
  find.mask = own > 0 ? cv::Mat1b(labels == own) : cv::Mat1b(around.size(), static_cast<unsigned char>(0));
  find.diameter_mm = 2 * std::sqrt(cv::countNonZero(find.mask) / CV_PI) * mm_per_px;
}

std::vector<PinholeFind> pinhole_candidates(const Locked& l, double mm_per_px, double warp_deg, double weft_deg,
                                            double least_px, std::size_t most) {
  const std::vector<Peak> all =
      peaks(scores(l, mm_per_px, warp_deg, weft_deg, least_px, Sign::either), inner_part(l), 1.5F);
  std::vector<PinholeFind> list(std::min(all.size(), most));
  for (std::size_t i = 0; i < list.size(); ++i) list[i].at = all[i].at, list[i].score = all[i].score;
  return list;
}

cv::Mat1f pinhole_patch(const Locked& l, double mm_per_px, cv::Point at) {
  constexpr double kStepMm = 0.1;
  cv::Mat1f patch(kPatchPlanes * kPatchSize, kPatchSize, 0.F);
  // The px of a map of the size given that lies some steps from the middle.
  const auto place = [&](int i, int j, cv::Point middle, cv::Size size) {
    constexpr int kMiddle = kPatchSize / 2;
    const double scale = kStepMm / mm_per_px;
    const int y = middle.y + cvRound((i - kMiddle) * scale), x = middle.x + cvRound((j - kMiddle) * scale);
    return cv::Point(std::clamp(x, 0, size.width - 1), std::clamp(y, 0, size.height - 1));
  };
  const auto near = [&](int i, int j) { return place(i, j, at, l.residual.size()); };
  const auto wide = [&](int i, int j) { return place(i, j, at / 2, l.half_light.size()); };
  const auto set = [&](int plane, int i, int j, float value) {
    patch(plane * kPatchSize + i, j) = std::clamp(value, -4.F, 4.F);
  };
  // Mean light over a window is the zero of its brightness.
  double mean = 0, wide_mean = 0;
  for (int i = 0; i < kPatchSize; ++i) {
    for (int j = 0; j < kPatchSize; ++j) mean += l.log_light(near(i, j)), wide_mean += l.half_light(wide(i, j));
  }
  const auto zero = static_cast<float>(mean / (kPatchSize * kPatchSize)),
             wide_zero = static_cast<float>(wide_mean / (kPatchSize * kPatchSize));
  const auto edge = [](float count) { return 4 * std::abs(count - static_cast<float>(cvFloor(count)) - 0.5F) - 1; };
  for (int i = 0; i < kPatchSize; ++i) {
    for (int j = 0; j < kPatchSize; ++j) {
      const cv::Point p = near(i, j), q = wide(i, j);
      set(0, i, j, 3 * (l.log_light(p) - zero));
      set(1, i, j, 3 * l.residual(p));
      set(2, i, j, l.unusual(p) / 2);
      set(3, i, j, edge(l.warp.at(p)));
      set(4, i, j, edge(l.weft.at(p)));
      set(5, i, j, l.warp_on_top(p) ? 1.F : -1.F);
      set(6, i, j, 3 * (l.half_light(q) - wide_zero));
      set(7, i, j, 3 * l.half_residual(q));
    }
  }
  return patch;
}

PinholeSearch find_pinholes(const Locked& l, double mm_per_px, double warp_deg, double weft_deg, double least_px,
                            double false_alarms) {
  PinholeSearch search;
  const std::vector<Peak> all =
      peaks(scores(l, mm_per_px, warp_deg, weft_deg, least_px, Sign::dark), inner_part(l), 1.F);
  if (all.empty()) return search;
  const Tail tail = tail_of(all);
  search.threshold = search.least = tail.threshold(false_alarms);
  for (std::size_t i = 0; i < all.size() && all[i].score >= search.threshold; ++i) {
    PinholeFind find;
    find.at = all[i].at;
    find.score = all[i].score;
    find.confidence = std::clamp(1.0 - tail.expected_above(find.score) / static_cast<double>(i + 1), 0.05, 0.99);
    measure_pinhole(l, mm_per_px, find);
    // Pits are 0.3 to 2 mm; larger dark places are areas.
    if (find.diameter_mm < 0.15 || find.diameter_mm > 2.2) continue;
    search.finds.push_back(std::move(find));
  }
  return search;
}

}  // namespace sheetloupe::defects
