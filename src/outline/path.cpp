#include "outline/path.h"

#include <algorithm>
#include <cmath>

#include "outline/band.h"
#include "sheetloupe/median.h"

namespace sheetloupe::outline {

Path followed(const cv::Mat& edge, const Path& guide, int slack) {
  cv::Mat1f level(2 * slack + 1, edge.cols, 0.0F);
  for (int c = 0; c < edge.cols; ++c) {
    for (int k = -slack; k <= slack; ++k) {
      const int row = guide.rows[c] + k;
      if (row >= 0 && row < edge.rows) level(k + slack, c) = edge.at<float>(row, c);
    }
  }
  Path path = strongest_path(level, 0, 2 * slack);
  for (int c = 0; c < edge.cols; ++c) path.rows[c] = std::clamp(path.rows[c] + guide.rows[c] - slack, 0, edge.rows - 1);
  return path;
}

// Dynamic programme: a step of one row a column costs a little.
Path strongest_path(const cv::Mat& edge, int from, int to) {
  from = std::clamp(from, 0, edge.rows - 2);
  to = std::clamp(to, from + 1, edge.rows - 1);
  const int n = to - from + 1;
  constexpr float kStepCost = 0.12F;
  cv::Mat1f best(edge.cols, n);
  cv::Mat1b came(edge.cols, n);
  for (int i = 0; i < n; ++i) best(0, i) = edge.at<float>(from + i, 0);
  for (int c = 1; c < edge.cols; ++c) {
    for (int i = 0; i < n; ++i) {
      float top = best(c - 1, i);
      int source = 0;
      if (i > 0 && best(c - 1, i - 1) - kStepCost > top) top = best(c - 1, i - 1) - kStepCost, source = 1;
      if (i + 1 < n && best(c - 1, i + 1) - kStepCost > top) top = best(c - 1, i + 1) - kStepCost, source = 2;
      best(c, i) = top + edge.at<float>(from + i, c);
      came(c, i) = static_cast<unsigned char>(source);
    }
  }
  Path path;
  path.rows.resize(edge.cols);
  int i = 0;
  for (int k = 1; k < n; ++k) {
    if (best(edge.cols - 1, k) > best(edge.cols - 1, i)) i = k;
  }
  for (int c = edge.cols - 1; c >= 0; --c) {
    path.rows[c] = from + i;
    path.strength += edge.at<float>(from + i, c) / edge.cols;
    if (c > 0) i += came(c, i) == 1 ? -1 : came(c, i) == 2 ? 1 : 0;
  }
  return path;
}

double straightness(const Path& path) {
  const int n = static_cast<int>(path.rows.size());
  std::vector<double> slopes;
  for (int c = 0; c + n / 2 < n; ++c) slopes.push_back((path.rows[c + n / 2] - path.rows[c]) / (n / 2.0));
  const double slope = median(slopes);
  std::vector<double> level(n), miss(n);
  for (int c = 0; c < n; ++c) level[c] = path.rows[c] - slope * c;
  const double base = median(level);
  for (int c = 0; c < n; ++c) miss[c] = std::abs(level[c] - base);
  return 1.4826 * median(miss);
}

double middle_row(const Path& path) { return median(std::vector<double>(path.rows.begin(), path.rows.end())); }

// The parabola through the strength of three rows.
double refined_row(const cv::Mat& gradient, int row, int column) {
  int best = row;
  for (int r = std::max(1, row - 2); r <= std::min(gradient.rows - 2, row + 2); ++r) {
    if (gradient.at<float>(r, column) > gradient.at<float>(best, column)) best = r;
  }
  if (best < 1 || best + 1 >= gradient.rows) return row;
  const double a = gradient.at<float>(best - 1, column), b = gradient.at<float>(best, column),
               c = gradient.at<float>(best + 1, column);
  const double curve = a - 2 * b + c;
  return curve < -1e-6 ? best + std::clamp(0.5 * (a - c) / curve, -1.0, 1.0) : best;
}

}  // namespace sheetloupe::outline
