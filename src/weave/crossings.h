// What the cloth looks like at every crossing of a warp and a weft tow.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "weave/normalise.h"

namespace sheetloupe::weave {

constexpr int kBins = 3, kLooks = kBins * kBins;  // a crossing's look: means over 3 x 3 parts
using Look = cv::Vec<double, kLooks>;

// Crossings of both tow sets with their looks. Row = tow of the set under test, column = tow of the other set.
class Crossings {
 public:
  /// `rows`, `cols`: the tow counts; `measured`: NaN where the weave is not read. All on a grid of `step_mm`.
  Crossings(const Normalised& n, const cv::Mat1f& rows, const cv::Mat1f& cols, const cv::Mat1f& measured,
            double step_mm);

  /// The same crossings with rows and columns changed over.
  Crossings transposed() const;

  int rows() const { return size_.height; }
  int cols() const { return size_.width; }
  bool known(int r, int c) const {
    return r >= 0 && c >= 0 && r < size_.height && c < size_.width && known_[index(r, c)];
  }
  const Look& look(int r, int c) const { return looks_[index(r, c)]; }
  cv::Point2d at(int r, int c) const { return at_[index(r, c)]; }
  int first_row() const { return first_row_; }
  int first_col() const { return first_col_; }

 private:
  Crossings() = default;
  std::size_t index(int r, int c) const { return static_cast<std::size_t>(r) * size_.width + c; }
  cv::Size size_;
  int first_row_ = 0, first_col_ = 0;
  std::vector<Look> looks_;
  std::vector<bool> known_;
  std::vector<cv::Point2d> at_;
};

}  // namespace sheetloupe::weave
