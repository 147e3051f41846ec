#include "defects/pinholes.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/median.h"

namespace sheetloupe::defects {
namespace {

constexpr std::array<double, 5> kDiametersMm = {0.3, 0.45, 0.7, 1.1, 1.7};

cv::Point along(double degrees, double length_px) {
  const double a = degrees * CV_PI / 180;
  return {cvRound(std::cos(a) * length_px), cvRound(-std::sin(a) * length_px)};
}

enum class Sign { dark, either };

// How much darker, or also how much brighter, a disc is than both pairs of its flanks along warp and along weft. A
// streak or a gap is as dark on two of its flanks, so it cancels.
struct Contrast {
  cv::Mat1f dark, bright;  // bright: only where asked for
};

Contrast contrast(const cv::Mat1f& residual, double diameter_px, double warp_deg, double weft_deg, Sign sign) {
  const double sigma = std::max(0.6, diameter_px / 3.2), reach = diameter_px / 2 + 2 * std::max(0.8, diameter_px / 3.2);
  const cv::Point w = along(warp_deg, reach), t = along(weft_deg, reach);
  const int m = cvCeil(reach) + 1;  // the picture's border repeats beyond it
  cv::Mat1f disc;
  cv::GaussianBlur(residual, disc, {}, sigma);
  cv::copyMakeBorder(disc, disc, m, m, m, m, cv::BORDER_REPLICATE);
  Contrast out{cv::Mat1f(residual.size()), sign == Sign::either ? cv::Mat1f(residual.size()) : cv::Mat1f()};
  cv::parallel_for_(cv::Range(0, residual.rows), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      const auto row = [&](cv::Point by) { return disc[r + m + by.y] + m + by.x; };
      const float *here = row({0, 0}), *w1 = row(w), *w2 = row(-w), *t1 = row(t), *t2 = row(-t);
      float* dark = out.dark[r];
      for (int c = 0; c < residual.cols; ++c)
        dark[c] = std::min(std::min(w1[c], w2[c]), std::min(t1[c], t2[c])) - here[c];
      if (sign == Sign::dark) continue;
      float* bright = out.bright[r];
      for (int c = 0; c < residual.cols; ++c)
        bright[c] = here[c] - std::max(std::max(w1[c], w2[c]), std::max(t1[c], t2[c]));
    }
  });
  return out;
}

double mad_scale(const cv::Mat1f& values, const cv::Mat1b& where) {
  std::vector<float> list;
  for (int r = 0; r < values.rows; r += 5) {
    for (int c = 0; c < values.cols; c += 5) {
      if (where(r, c)) list.push_back(values(r, c));
    }
  }
  if (list.size() < 100) return 1.0;
  const float middle = median(list);
  for (float& v : list) v = std::abs(v - middle);
  return std::max(1.4826 * median(std::move(list)), 1e-6);
}

// Every place's contrast in units of the sheet's scatter: of dark points, or the larger of either sign.
cv::Mat1f standardised(const Contrast& k, const cv::Mat1b& judged) {
  const auto dark_unit = static_cast<float>(1 / mad_scale(k.dark, judged));
  if (k.bright.empty()) return k.dark * dark_unit;
  const auto bright_unit = static_cast<float>(1 / mad_scale(k.bright, judged));
  cv::Mat1f out(k.dark.size());
  cv::parallel_for_(cv::Range(0, out.rows), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      const float *dark = k.dark[r], *bright = k.bright[r];
      float* value = out[r];
      for (int c = 0; c < out.cols; ++c) value[c] = std::max(dark[c] * dark_unit, bright[c] * bright_unit);
    }
  });
  return out;
}

cv::Mat halved(const cv::Mat& picture, int interpolation) {
  cv::Mat half;
  cv::resize(picture, half, {(picture.cols + 1) / 2, (picture.rows + 1) / 2}, 0, 0, interpolation);
  return half;
}

void raise(cv::Mat best, const cv::Mat& value) { cv::max(best, value, best); }

// The largest standardised contrast over the sizes. A disc of seven px and more is as well judged on every second one.
cv::Mat1f scores(const Locked& l, double mm_per_px, double warp_deg, double weft_deg, double least_px, Sign sign) {
  constexpr double kCoarsePx = 7.0;
  cv::Mat1f best(l.residual.size(), 0.F), coarse;
  cv::Mat1f half_unusual;
  cv::Mat1b half_judged;
  for (const double d : kDiametersMm) {
    const double px = d / mm_per_px;
    if (px < 0.5 * least_px) continue;
    if (px < kCoarsePx) {
      const Contrast fine = contrast(l.unusual, px, warp_deg, weft_deg, sign);
      raise(best, standardised(fine, l.judged));
      continue;
    }
    if (half_unusual.empty()) {
      half_unusual = halved(l.unusual, cv::INTER_AREA);
      half_judged = halved(l.judged, cv::INTER_NEAREST);
      coarse = cv::Mat1f(half_unusual.size(), 0.F);
    }
    const Contrast wide = contrast(half_unusual, px / 2, warp_deg, weft_deg, sign);
    raise(coarse, standardised(wide, half_judged));
  }
  if (coarse.empty()) return best;
  cv::Mat1f wide;
  cv::resize(coarse, wide, best.size(), 0, 0, cv::INTER_LINEAR);
  raise(best, wide);
  return best;
}

std::vector<PinholeFind> peaks(const cv::Mat1f& score, const cv::Mat1b& judged, float least) {
  cv::Mat1f highest;
  cv::dilate(score, highest, cv::getStructuringElement(cv::MORPH_ELLIPSE, {9, 9}));
  std::vector<PinholeFind> list;
  for (int r = 4; r + 4 < score.rows; ++r) {
    for (int c = 4; c + 4 < score.cols; ++c) {
      if (judged(r, c) && score(r, c) > least && score(r, c) >= highest(r, c))
        list.push_back({{c, r}, score(r, c), 0, 0, {}, false});
    }
  }
  std::sort(list.begin(), list.end(), [](const PinholeFind& a, const PinholeFind& b) { return a.score > b.score; });
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

Tail tail_of(const std::vector<PinholeFind>& sorted) {
  Tail tail;
  const auto n = static_cast<double>(sorted.size());
  constexpr double kShare = 0.02, kRarest = 0.002;
  if (n < 2000) return {5.5, 0.7, n};  // under some 35 peaks to fit: a cautious tail
  const auto exceeded_by = [&](double share) { return sorted[static_cast<std::size_t>(share * (n - 1))].score; };
  tail.from = exceeded_by(kShare);
  const double upper = exceeded_by(kRarest);
  double sum = 0, count = 0;
  for (const PinholeFind& p : sorted) {
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
  cv::Mat1b inner;  // a pixel rim around what is not judged would look like an edge
  cv::erode(l.judged, inner, cv::getStructuringElement(cv::MORPH_ELLIPSE, {9, 9}));
  std::vector<PinholeFind> list = peaks(scores(l, mm_per_px, warp_deg, weft_deg, least_px, Sign::either), inner, 1.5F);
  if (list.size() > most) list.resize(most);
  return list;
}

cv::Mat1f pinhole_patch(const Locked& l, double mm_per_px, cv::Point at) {
  // Mean light over a wide window is the zero of the first plane; the last tells which tow is on top.
  constexpr double kStepMm = 0.1;
  cv::Mat1f patch(kPatchPlanes * kPatchSize, kPatchSize, 0.F);
  const auto sample = [&](int i, int j) {
    constexpr int kMiddle = kPatchSize / 2;
    const double scale = kStepMm / mm_per_px;
    const int y = at.y + cvRound((i - kMiddle) * scale), x = at.x + cvRound((j - kMiddle) * scale);
    return cv::Point(std::clamp(x, 0, l.residual.cols - 1), std::clamp(y, 0, l.residual.rows - 1));
  };
  double mean = 0;
  for (int i = 0; i < kPatchSize; ++i) {
    for (int j = 0; j < kPatchSize; ++j) mean += l.log_light(sample(i, j));
  }
  mean /= kPatchSize * kPatchSize;
  const auto edge = [](float count) { return 4 * std::abs(count - static_cast<float>(cvFloor(count)) - 0.5F) - 1; };
  for (int i = 0; i < kPatchSize; ++i) {
    for (int j = 0; j < kPatchSize; ++j) {
      const cv::Point p = sample(i, j);
      const float planes[kPatchPlanes] = {3 * (l.log_light(p) - static_cast<float>(mean)),
                                          3 * l.residual(p),
                                          l.unusual(p) / 2,
                                          edge(l.warp(p)),
                                          edge(l.weft(p)),
                                          l.warp_on_top(p) ? 1.F : -1.F};
      for (int k = 0; k < kPatchPlanes; ++k) patch(k * kPatchSize + i, j) = std::clamp(planes[k], -4.F, 4.F);
    }
  }
  return patch;
}

PinholeSearch find_pinholes(const Locked& l, double mm_per_px, double warp_deg, double weft_deg, double least_px,
                            double false_alarms) {
  PinholeSearch search;
  cv::Mat1b inner;  // a pixel rim around what is not judged would look like an edge
  cv::erode(l.judged, inner, cv::getStructuringElement(cv::MORPH_ELLIPSE, {9, 9}));
  const std::vector<PinholeFind> all =
      peaks(scores(l, mm_per_px, warp_deg, weft_deg, least_px, Sign::dark), inner, 1.F);
  if (all.empty()) return search;
  const Tail tail = tail_of(all);
  search.threshold = search.least = tail.threshold(false_alarms);
  for (std::size_t i = 0; i < all.size() && all[i].score >= search.threshold; ++i) {
    PinholeFind find = all[i];
    find.confidence = std::clamp(1.0 - tail.expected_above(find.score) / static_cast<double>(i + 1), 0.05, 0.99);
    measure_pinhole(l, mm_per_px, find);
    // Pits are 0.3 to 2 mm; larger dark places are areas.
    if (find.diameter_mm < 0.15 || find.diameter_mm > 2.2) continue;
    search.finds.push_back(std::move(find));
  }
  return search;
}

}  // namespace sheetloupe::defects
