// What the straightened band shows, prepared once for all counts that are tried.
#pragma once

#include <map>
#include <opencv2/core.hpp>
#include <vector>

namespace sheetloupe::plies {

/// How far the upper and the lower part of a layer from row `a` to row `b` swing against each other along the length:
/// 1 when one is bright wherever the other is dark, -1 when they are alike.
struct Swap {
  double both = 0.0, grey = 0.0, grain = 0.0;
};

class Evidence {
 public:
  /// `straight`: grey levels, the cut from its top to its bottom row.
  explicit Evidence(const cv::Mat1f& straight);

  int rows() const { return rows_; }
  static constexpr int kWindows = 48;  // pieces of the length in which lines are followed

  Swap swap(double a, double b) const;
  /// The same between the lower part of one layer and the upper part of the next.
  double swap_across(double a, double b, double c) const;
  /// The `both` value of a layer `gap` rows high by its bottom row, from a table. Layers that no count of plies needs
  /// are left out: of three plies or more none is higher than 1.6 times the mean, of two each lies at a face.
  const float* swaps_of_height(int gap) const { return table_[gap]; }

  /// Ridges across the edge at a width of `sigma` rows, bright lines positive, in scatters of the map: rows x kWindows.
  const cv::Mat1f& ridges(double sigma) { return looked(sigma).ridges; }
  /// Their mean over the length, in its own scatter.
  const std::vector<double>& ridge_profile(double sigma) { return looked(sigma).profile; }
  /// Widths that ridges() knows.
  static const std::vector<double>& sigmas();

  /// Power of the mean profile at n cycles from top to bottom.
  double comb(int n) const;
  /// Likeness of the mean profile with itself `shift` rows further, [-1, 1].
  double autocorrelation(double shift) const;

 private:
  struct Look {
    cv::Mat1f ridges;
    std::vector<double> profile;
  };
  const Look& looked(double sigma);

  int rows_ = 0;
  cv::Mat1f base_;               // rows x kWindows, level along the length kept
  std::vector<double> profile_;  // mean over the length, slow part taken off
  // Sums from the top row, level along the length taken off: (rows + 1) x columns.
  std::vector<float> grey_sums_, grain_sums_;
  cv::Mat1f table_;  // by height, then bottom row
  std::map<int, Look> looks_;
};

}  // namespace sheetloupe::plies
