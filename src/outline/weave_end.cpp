#include "outline/weave_end.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/median.h"

namespace sheetloupe::outline {

cv::Mat detail_of(const Band& band) {
  cv::Mat slow;
  cv::GaussianBlur(band.log_grey, slow, {31, 1}, 8.0, 0.1);
  cv::Mat detail = cv::abs(band.log_grey - slow);
  cv::Mat near_paper;
  cv::dilate(band.paper, near_paper, cv::Mat::ones(5, 41, CV_8U));
  detail.setTo(0, near_paper);
  return detail;
}

std::vector<double> roughness(const cv::Mat& detail) {
  std::vector<double> rough(detail.rows);
  for (int r = 0; r < detail.rows; ++r) {
    const auto* row = detail.ptr<float>(r);
    rough[r] = std::accumulate(row, row + detail.cols, 0.0) / detail.cols;
  }
  std::vector<double> smooth(rough.size());
  for (int r = 0; r < static_cast<int>(rough.size()); ++r) {
    double sum = 0, n = 0;
    for (int k = -2; k <= 2; ++k) {
      const int q = r + k;
      if (q >= 0 && q < static_cast<int>(rough.size())) {
        sum += rough[q];
        n += 1;
      }
    }
    smooth[r] = sum / n;
  }
  return smooth;
}

int weave_end(const std::vector<double>& rough) {
  const auto n = static_cast<std::ptrdiff_t>(rough.size());
  const double weave = median(std::vector<double>(rough.begin(), rough.begin() + n / 3));
  const double table = median(std::vector<double>(rough.end() - n / 5, rough.end()));
  const double half = 0.5 * (weave + table);
  if (weave < 1.3 * table) return -1;
  for (int r = static_cast<int>(n) - 1; r > 0; --r) {
    if (rough[r] >= half) {
      // A scratch or a grain line far out is narrow; the weave goes on inside.
      int inside = 0;
      for (int k = 1; k <= 15 && r - k >= 0; ++k) inside += rough[r - k] >= 0.8 * half ? 1 : 0;
      if (inside >= 11) return r;
    }
  }
  return -1;
}

// From groups of columns that each vote: the pair of groups whose line most others agree with.
std::optional<std::pair<cv::Point2d, cv::Point2d>> weave_end_line(const Band& band) {
  constexpr int kGroups = 16;
  constexpr double kAgree = 1.5;  // plane units
  const cv::Mat detail = detail_of(band);
  std::vector<cv::Point2d> ends;  // column, offset
  for (int g = 0; g < kGroups; ++g) {
    const int width = kColumns / kGroups;
    const int row = weave_end(roughness(detail.colRange(g * width, (g + 1) * width)));
    if (row >= 0) ends.emplace_back((g + 0.5) * width, band.offset_of(row));
  }
  if (ends.size() < kGroups / 2) return {};
  double best_votes = 0;
  cv::Vec2d best;
  for (std::size_t i = 0; i < ends.size(); ++i) {
    for (std::size_t j = i + 3; j < ends.size(); ++j) {
      const double slope = (ends[j].y - ends[i].y) / (ends[j].x - ends[i].x);
      double votes = 0;
      for (const cv::Point2d& e : ends) {
        const double miss = std::abs(ends[i].y + slope * (e.x - ends[i].x) - e.y) / kAgree;
        votes += std::max(0.0, 1.0 - miss * miss);
      }
      if (votes > best_votes) {
        best_votes = votes;
        best = {ends[i].y - slope * ends[i].x, slope};
      }
    }
  }
  if (best_votes < kGroups / 4.0) return {};
  const auto at = [&](double c) { return band.start + band.along * c + band.outward * (best[0] + best[1] * c); };
  const double beyond = kSkipEnds / (1.0 - 2 * kSkipEnds) * (kColumns - 1);
  return std::pair{at(-beyond), at(kColumns - 1 + beyond)};
}

}  // namespace sheetloupe::outline
