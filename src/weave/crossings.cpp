#include "weave/crossings.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace sheetloupe::weave {

namespace {

// Where the px of one direction lie between nodes: at nodes `first` and `first` + 1, `share` of the way; `nearest`.
struct Place {
  int first, nearest;
  float share;
};

std::vector<Place> places_of(int px, int nodes, double px_per_node) {
  std::vector<Place> places(px);
  for (int i = 0; i < px; ++i) {
    const double at = std::clamp((i + 0.5) / px_per_node - 0.5, 0.0, nodes - 1.0);
    const int first = std::min(static_cast<int>(at), std::max(0, nodes - 2));
    places[i] = {first, cvRound(at), static_cast<float>(at - first)};
  }
  return places;
}

// A count on nodes, in thirds of a tow from the lowest tow on, along one row of px.
class RowOfThirds {
 public:
  RowOfThirds(const cv::Mat1f& nodes, int from, int tows)
      : nodes_(nodes), from_(static_cast<float>(from)), most_(kBins * tows - 1) {}

  void move_to(const Place& row) {
    const float *a = nodes_[row.first], *b = nodes_[std::min(row.first + 1, nodes_.rows - 1)];
    row_.resize(nodes_.cols + 1);
    for (int c = 0; c < nodes_.cols; ++c) row_[c] = kBins * (a[c] + row.share * (b[c] - a[c]) - from_);
    row_[nodes_.cols] = row_[nodes_.cols - 1];
  }
  int at(const Place& col) const {
    const float thirds = row_[col.first] + col.share * (row_[col.first + 1] - row_[col.first]);
    return std::min(static_cast<int>(thirds), most_);  // rounded, the highest could come to lie beyond its tow
  }

 private:
  const cv::Mat1f& nodes_;
  float from_;
  int most_;
  std::vector<float> row_;
};

struct Sums {
  std::array<float, kLooks> look{};
  std::array<int, kLooks> count{};
  float x = 0, y = 0;  // px
};

int lowest_tow(const cv::Mat1f& count, int& tows) {
  double low, high;
  cv::minMaxLoc(count, &low, &high);
  tows = cvFloor(high) - cvFloor(low) + 1;
  return cvFloor(low);
}

}  // namespace

Crossings::Crossings(const Normalised& n, const cv::Mat1f& rows, const cv::Mat1f& cols, const cv::Mat1f& measured,
                     double step_mm) {
  first_row_ = lowest_tow(rows, size_.height);
  first_col_ = lowest_tow(cols, size_.width);
  std::vector<Sums> sums(static_cast<std::size_t>(size_.area()));
  const double px_per_node = step_mm / n.mm_per_px;
  const std::vector<Place> down = places_of(n.z.rows, rows.rows, px_per_node),
                           across = places_of(n.z.cols, rows.cols, px_per_node);
  RowOfThirds row(rows, first_row_, size_.height), col(cols, first_col_, size_.width);
  for (int y = 0; y < n.z.rows; ++y) {
    row.move_to(down[y]);
    col.move_to(down[y]);
    const float *z = n.z[y], *seen = n.seen[y], *valid = measured[down[y].nearest];
    for (int x = 0; x < n.z.cols; ++x) {
      if (seen[x] < 0.5F || std::isnan(valid[across[x].nearest])) continue;
      const int r = row.at(across[x]), c = col.at(across[x]);
      Sums& sum = sums[index(r / kBins, c / kBins)];
      const int bin = r % kBins * kBins + c % kBins;
      sum.look[bin] += z[x];
      ++sum.count[bin];
      sum.x += static_cast<float>(x);
      sum.y += static_cast<float>(y);
    }
  }
  looks_.assign(sums.size(), Look());
  known_.assign(sums.size(), true);
  at_.assign(sums.size(), {0, 0});
  for (std::size_t k = 0; k < sums.size(); ++k) {
    int all = 0;
    for (int b = 0; b < kLooks; ++b) {
      const int count = sums[k].count[b];
      all += count;
      if (count == 0) known_[k] = false;
      looks_[k][b] = sums[k].look[b] / static_cast<float>(std::max(1, count));
    }
    if (all > 0)
      at_[k] = cv::Point2d(sums[k].x / static_cast<float>(all) + 0.5, sums[k].y / static_cast<float>(all) + 0.5) *
               n.mm_per_px;
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
