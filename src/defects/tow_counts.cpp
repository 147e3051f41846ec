#include "defects/tow_counts.h"

#include <algorithm>
#include <cmath>

namespace sheetloupe::defects {

TowCounts::TowCounts(const cv::Mat& field, const WeavePhase& phase, const RectifiedSheet& sheet) : nodes_(field) {
  const double k = sheet.mm_per_px / phase.step_mm;
  const auto places = [k](int pixels, double from, int count) {
    Places all;
    for (int px = 0; px < pixels; ++px) {
      const double at = (px + 0.5) * k + from - 0.5;
      const int node = std::clamp(static_cast<int>(std::floor(at)), 0, count - 2);
      all.node.push_back(node);
      all.share.push_back(static_cast<float>(at - node));
    }
    return all;
  };
  columns_ = places(sheet.bgr.cols, (sheet.origin.x - phase.origin.x) / phase.step_mm, nodes_.cols);
  rows_ = places(sheet.bgr.rows, (sheet.origin.y - phase.origin.y) / phase.step_mm, nodes_.rows);
}

namespace {

struct Corners {
  float a, b, c, d;  // of the nodes around: above left and right, below left and right
};

float between(const Corners& at, float u, float v) {
  return (1 - v) * ((1 - u) * at.a + u * at.b) + v * ((1 - u) * at.c + u * at.d);
}

}  // namespace

void TowCounts::row(int r, float* to) const {
  const int i = rows_.node[r];
  const float v = rows_.share[r];
  const float *above = nodes_[i], *below = nodes_[i + 1], *share = columns_.share.data();
  const int count = static_cast<int>(columns_.node.size());
  // From node to node, some ten px: what is told by the nodes stays the same between them.
  for (int first = 0, end = 0; first < count; first = end) {
    const int j = columns_.node[first];
    while (end < count && columns_.node[end] == j) ++end;
    const Corners corners{above[j], above[j + 1], below[j], below[j + 1]};
    for (int px = first; px < end; ++px) to[px] = between(corners, share[px], v);
  }
}

cv::Mat1f TowCounts::rows(const cv::Range& range) const {
  cv::Mat1f some(range.size(), static_cast<int>(columns_.node.size()));
  for (int r = range.start; r < range.end; ++r) row(r, some[r - range.start]);
  return some;
}

float TowCounts::at(cv::Point px) const {
  const int i = rows_.node[px.y], j = columns_.node[px.x];
  const float v = rows_.share[px.y], u = columns_.share[px.x];
  const float *above = nodes_[i], *below = nodes_[i + 1];
  return between({above[j], above[j + 1], below[j], below[j + 1]}, u, v);
}

std::pair<float, float> TowCounts::range() const {
  double least = 0, most = 0;
  cv::minMaxLoc(nodes_, &least, &most);
  const int last_row = static_cast<int>(rows_.node.size()) - 1,
            last_column = static_cast<int>(columns_.node.size()) - 1;
  const auto widen = [&](cv::Point px) {
    least = std::min<double>(least, at(px));
    most = std::max<double>(most, at(px));
  };
  for (int r = 0; r <= last_row; ++r) widen({0, r}), widen({last_column, r});
  for (int c = 0; c <= last_column; ++c) widen({c, 0}), widen({c, last_row});
  return {static_cast<float>(least), static_cast<float>(most)};
}

}  // namespace sheetloupe::defects
