#include "weave/crossings.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::weave {

Crossings::Crossings(const Normalised& n, const cv::Mat1f& rows, const cv::Mat1f& cols, const cv::Mat1f& measured,
                     double step_mm) {
  const double per = step_mm / n.mm_per_px;
  const cv::Matx23d to_nodes(1 / per, 0, 0.5 / per - 0.5, 0, 1 / per, 0.5 / per - 0.5);
  const auto per_pixel = [&](const cv::Mat1f& map, int how) {
    cv::Mat1f out;
    cv::warpAffine(map, out, to_nodes, n.z.size(), how | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
    return out;
  };
  const cv::Mat1f row = per_pixel(rows, cv::INTER_LINEAR), col = per_pixel(cols, cv::INTER_LINEAR),
                  valid = per_pixel(measured, cv::INTER_NEAREST);
  double low_r, high_r, low_c, high_c;
  cv::minMaxLoc(row, &low_r, &high_r);
  cv::minMaxLoc(col, &low_c, &high_c);
  first_row_ = cvFloor(low_r);
  first_col_ = cvFloor(low_c);
  const cv::Size size(cvFloor(high_c) - first_col_ + 1, cvFloor(high_r) - first_row_ + 1);
  looks_.assign(static_cast<std::size_t>(size.area()), Look());
  std::vector<cv::Vec<double, kLooks>> counts(looks_.size());
  at_.assign(looks_.size(), {0, 0});
  size_ = size;
  for (int y = 0; y < n.z.rows; ++y) {
    for (int x = 0; x < n.z.cols; ++x) {
      if (n.seen(y, x) < 0.5F || std::isnan(valid(y, x))) continue;
      const int r = cvFloor(row(y, x)), c = cvFloor(col(y, x));
      const auto k = index(r - first_row_, c - first_col_);
      const int bin = std::min(kBins - 1, static_cast<int>((row(y, x) - static_cast<float>(r)) * kBins)) * kBins +
                      std::min(kBins - 1, static_cast<int>((col(y, x) - static_cast<float>(c)) * kBins));
      looks_[k][bin] += n.z(y, x);
      counts[k][bin] += 1;
      at_[k] += cv::Point2d(x + 0.5, y + 0.5) * n.mm_per_px;
    }
  }
  known_.assign(looks_.size(), true);
  for (std::size_t k = 0; k < looks_.size(); ++k) {
    double all = 0;
    for (int b = 0; b < kLooks; ++b) {
      all += counts[k][b];
      if (counts[k][b] < 1) known_[k] = false;
      looks_[k][b] /= std::max(1.0, counts[k][b]);
    }
    at_[k] *= 1 / std::max(1.0, all);
  }
}

Crossings Crossings::transposed() const {
  Crossings t;
  t.size_ = {size_.height, size_.width};
  t.first_row_ = first_col_;
  t.first_col_ = first_row_;
  t.looks_.resize(looks_.size());
  t.known_.resize(looks_.size());
  t.at_.resize(looks_.size());
  for (int r = 0; r < size_.height; ++r) {
    for (int c = 0; c < size_.width; ++c) {
      const std::size_t from = index(r, c), to = t.index(c, r);
      for (int b = 0; b < kLooks; ++b) t.looks_[to][b % kBins * kBins + b / kBins] = looks_[from][b];
      t.known_[to] = known_[from];
      t.at_[to] = at_[from];
    }
  }
  return t;
}

}  // namespace sheetloupe::weave
