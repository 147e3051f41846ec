#include "plies/evidence.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/wide.h"

namespace sheetloupe::plies {
namespace {

constexpr int kColumns = 160;  // of the swap readings: some five for a tow pitch
constexpr int kMostRows = 320;

cv::Mat1f unit_scatter(cv::Mat1f m) {
  cv::Scalar mean, scatter;
  cv::meanStdDev(m, mean, scatter);
  m = (m - mean[0]) / std::max(1e-4, scatter[0]);
  cv::Mat1f clipped;
  cv::min(m, 4.0, clipped);
  cv::max(clipped, -4.0, clipped);
  return clipped;
}

// Light and saw marks that cross the whole edge change all rows of a column alike.
void take_off_columns(cv::Mat1f& m) {
  cv::Mat1f mean;
  cv::reduce(m, mean, 0, cv::REDUCE_AVG);
  for (int r = 0; r < m.rows; ++r) m.row(r) -= mean;
}

// What does not change along the length says nothing about swapping.
cv::Mat1f along_only(const cv::Mat1f& m) {
  cv::Mat1f slow;
  cv::blur(m, slow, {kColumns / 3, 1}, {-1, -1}, cv::BORDER_REFLECT);
  return m - slow;
}

std::vector<double> row_sums(const cv::Mat1f& m) {
  std::vector<double> sums(static_cast<std::size_t>(m.rows + 1) * m.cols, 0.0);
  for (int r = 0; r < m.rows; ++r) {
    for (int c = 0; c < m.cols; ++c)
      sums[static_cast<std::size_t>(r + 1) * m.cols + c] = sums[static_cast<std::size_t>(r) * m.cols + c] + m(r, c);
  }
  return sums;
}

cv::Mat1f resized(const cv::Mat1f& m, int columns, int rows) {
  cv::Mat1f out;
  cv::resize(m, out, {columns, rows}, 0, 0, cv::INTER_AREA);
  return out;
}

// Upper and lower part of a layer: the borders' surroundings and the middle, where yarn and tow end meet, are left out.
constexpr double kUpperFrom = 0.12, kUpperTo = 0.44, kLowerFrom = 0.56, kLowerTo = 0.88;

// Four sums side by side, because one would wait for itself at every column.
using Four = double __attribute__((vector_size(4 * sizeof(double)), aligned(sizeof(double)), may_alias));
inline const Four& at(const double* values) { return *reinterpret_cast<const Four*>(values); }

struct Sums {
  double cross = 0.0, own = 0.0;
};

SHEETLOUPE_WIDE Sums compare(const double* a0, const double* a1, double an, const double* b0, const double* b1,
                             double bn) {
  static_assert(kColumns % 4 == 0);
  Four cross = {}, own = {};
  for (int c = 0; c < kColumns; c += 4) {
    const Four u = (at(a1 + c) - at(a0 + c)) * an, l = (at(b1 + c) - at(b0 + c)) * bn;
    cross += u * l;
    own += u * u + l * l;
  }
  return {cross[0] + cross[1] + cross[2] + cross[3], own[0] + own[1] + own[2] + own[3]};
}

struct Part {
  int from, to;
};
Part part(double a, double b, double from, double to, int rows) {
  const int f = std::clamp(cvRound(a + from * (b - a)), 0, rows - 1);
  return {f, std::clamp(cvRound(a + to * (b - a)), f + 1, rows)};
}

}  // namespace

const std::vector<double>& Evidence::sigmas() {
  static const std::vector<double> all = {0.9, 1.3, 1.9, 2.7, 3.8, 5.4, 7.6, 11.0};
  return all;
}

Evidence::Evidence(const cv::Mat1f& straight) {
  rows_ = std::min(kMostRows, straight.rows);
  cv::Mat1f light, soft, grain;
  cv::log(straight + 6.0, light);
  cv::GaussianBlur(light, soft, {9, 1}, 2.0, 0.1);
  grain = cv::abs(light - soft);
  cv::Mat1f grey = resized(light, kColumns, rows_);
  cv::blur(grain, grain, {1, 3});
  grain = resized(grain, kColumns, rows_);
  take_off_columns(grey);
  take_off_columns(grain);
  grey = unit_scatter(grey);
  grain = unit_scatter(grain);
  base_ = resized(grey, kWindows, rows_);
  grey_sums_ = row_sums(unit_scatter(along_only(grey)));
  grain_sums_ = row_sums(unit_scatter(along_only(grain)));

  cv::Mat1f profile, slow;
  cv::reduce(base_, profile, 1, cv::REDUCE_AVG);
  cv::blur(profile, slow, {1, std::max(3, rows_ / 2 | 1)}, {-1, -1}, cv::BORDER_REFLECT);
  for (int r = 0; r < rows_; ++r) profile_.push_back(profile(r, 0) - slow(r, 0));

  table_ = cv::Mat1f::zeros(rows_ + 1, rows_ + 1);
  for (int a = 0; a < rows_; ++a) {
    for (int b = a + 5; b <= std::min(rows_, a + cvCeil(0.8 * rows_)); b += 1)
      table_(b, a) = static_cast<float>(swap(a, b).both);
  }
}

Swap Evidence::swap(double a, double b) const {
  const Part u = part(a, b, kUpperFrom, kUpperTo, rows_), l = part(a, b, kLowerFrom, kLowerTo, rows_);
  const double un = 1.0 / (u.to - u.from), ln = 1.0 / (l.to - l.from);
  const auto of = [&](const std::vector<double>& sums) {
    return compare(&sums[static_cast<std::size_t>(u.from) * kColumns], &sums[static_cast<std::size_t>(u.to) * kColumns],
                   un, &sums[static_cast<std::size_t>(l.from) * kColumns],
                   &sums[static_cast<std::size_t>(l.to) * kColumns], ln);
  };
  const Sums grey = of(grey_sums_), grain = of(grain_sums_);
  return {-2 * (grey.cross + grain.cross) / (grey.own + grain.own + 1e-9), -2 * grey.cross / (grey.own + 1e-9),
          -2 * grain.cross / (grain.own + 1e-9)};
}

double Evidence::swap_across(double a, double b, double c) const {
  const Part l = part(a, b, kLowerFrom, kLowerTo, rows_), u = part(b, c, kUpperFrom, kUpperTo, rows_);
  const Sums s = compare(&grey_sums_[static_cast<std::size_t>(l.from) * kColumns],
                         &grey_sums_[static_cast<std::size_t>(l.to) * kColumns], 1.0 / (l.to - l.from),
                         &grey_sums_[static_cast<std::size_t>(u.from) * kColumns],
                         &grey_sums_[static_cast<std::size_t>(u.to) * kColumns], 1.0 / (u.to - u.from));
  return -2 * s.cross / (s.own + 1e-9);
}

const cv::Mat1f& Evidence::ridges(double sigma) {
  cv::Mat1f& map = ridges_[cvRound(10 * sigma)];
  if (map.empty()) {
    cv::Mat1f soft;
    cv::GaussianBlur(base_, soft, {1, 2 * cvCeil(3 * sigma) + 1}, sigma, sigma, cv::BORDER_REFLECT);
    map = cv::Mat1f::zeros(base_.size());
    const int d = std::max(1, cvRound(sigma));
    for (int r = 0; r < rows_; ++r) {
      const int up = std::max(0, r - d), down = std::min(rows_ - 1, r + d);
      map.row(r) = 2 * soft.row(r) - soft.row(up) - soft.row(down);
    }
    cv::Scalar mean, scatter;
    cv::meanStdDev(map, mean, scatter);
    map /= std::max(1e-5, scatter[0]);
  }
  return map;
}

double Evidence::comb(int n) const {
  double c = 0, s = 0;
  for (int r = 0; r < rows_; ++r) {
    const double angle = 2 * CV_PI * n * (r + 0.5) / rows_;
    c += profile_[r] * std::cos(angle);
    s += profile_[r] * std::sin(angle);
  }
  return (c * c + s * s) / (static_cast<double>(rows_) * rows_);
}

double Evidence::autocorrelation(double shift) const {
  const int d = std::max(1, cvRound(shift));
  double cross = 0, own = 1e-9;
  for (int r = 0; r < rows_; ++r) {
    own += profile_[r] * profile_[r];
    if (r + d < rows_) cross += profile_[r] * profile_[r + d];
  }
  return cross / own * rows_ / std::max(1, rows_ - d);
}

}  // namespace sheetloupe::plies
