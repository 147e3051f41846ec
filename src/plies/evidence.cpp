#include "plies/evidence.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "plies/lanes.h"
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

std::vector<float> row_sums(const cv::Mat1f& m) {
  std::vector<float> sums(static_cast<std::size_t>(m.rows + 1) * m.cols, 0.F);
  std::vector<double> so_far(static_cast<std::size_t>(m.cols), 0.0);
  for (int r = 0; r < m.rows; ++r) {
    for (int c = 0; c < m.cols; ++c)
      sums[static_cast<std::size_t>(r + 1) * m.cols + c] = static_cast<float>(so_far[c] += m(r, c));
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

struct Sums {
  float cross = 0.F, own = 0.F;
};

SHEETLOUPE_WIDE Sums compare(const float* a0, const float* a1, float an, const float* b0, const float* b1, float bn) {
  static_assert(kColumns % 8 == 0);
  EightFloats cross = {}, own = {};
  for (int c = 0; c < kColumns; c += 8) {
    const EightFloats u = (eight_at(a1 + c) - eight_at(a0 + c)) * an, l = (eight_at(b1 + c) - eight_at(b0 + c)) * bn;
    cross += u * l;
    own += u * u + l * l;
  }
  Sums sums;
  for (int i = 0; i < 8; ++i) sums.cross += cross[i], sums.own += own[i];
  return sums;
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
  const int of_three = cvCeil(1.6 * rows_ / 3);
  for (int gap = 5; gap <= cvCeil(0.8 * rows_); ++gap) {
    const int step = gap <= of_three ? 1 : std::max(1, rows_ - gap);
    for (int b = gap; b <= rows_; b += step) table_(gap, b) = static_cast<float>(swap(b - gap, b).both);
  }
}

Swap Evidence::swap(double a, double b) const {
  const Part u = part(a, b, kUpperFrom, kUpperTo, rows_), l = part(a, b, kLowerFrom, kLowerTo, rows_);
  const float un = 1.F / static_cast<float>(u.to - u.from), ln = 1.F / static_cast<float>(l.to - l.from);
  const auto of = [&](const std::vector<float>& sums) {
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
  const Sums s = compare(
      &grey_sums_[static_cast<std::size_t>(l.from) * kColumns], &grey_sums_[static_cast<std::size_t>(l.to) * kColumns],
      1.F / static_cast<float>(l.to - l.from), &grey_sums_[static_cast<std::size_t>(u.from) * kColumns],
      &grey_sums_[static_cast<std::size_t>(u.to) * kColumns], 1.F / static_cast<float>(u.to - u.from));
  return -2 * s.cross / (s.own + 1e-9);
}

const Evidence::Look& Evidence::looked(double sigma) {
  Look& look = looks_[cvRound(10 * sigma)];
  if (!look.ridges.empty()) return look;
  cv::Mat1f soft;
  cv::GaussianBlur(base_, soft, {1, 2 * cvCeil(3 * sigma) + 1}, sigma, sigma, cv::BORDER_REFLECT);
  look.ridges.create(base_.size());
  const int d = std::max(1, cvRound(sigma));
  for (int r = 0; r < rows_; ++r) {
    const float *here = soft[r], *up = soft[std::max(0, r - d)], *down = soft[std::min(rows_ - 1, r + d)];
    for (int c = 0; c < kWindows; ++c) look.ridges(r, c) = 2 * here[c] - up[c] - down[c];
  }
  cv::Scalar mean, scatter;
  cv::meanStdDev(look.ridges, mean, scatter);
  look.ridges /= std::max(1e-5, scatter[0]);
  double square = 0;
  for (int r = 0; r < rows_; ++r) {
    double sum = 0;
    for (int c = 0; c < kWindows; ++c) sum += look.ridges(r, c);
    look.profile.push_back(sum / kWindows);
    square += look.profile.back() * look.profile.back();
  }
  for (double& v : look.profile) v /= std::sqrt(square / rows_) + 1e-9;
  return look;
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
