#include "placement/vacancies.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace sheetloupe::placement {

Vacancies::Vacancies(const Problem& problem, int kind) : problem_(problem), kind_(kind) {
  const Field& field = problem.field(kind);
  low_ = field.low();
  // A twelfth of the spacing: finer does not change which vacancy is best, coarser misses narrow ones.
  pitch_ = std::max(1.0, problem.spacing_of(kind, kind) / 12);
  columns_ = static_cast<int>((field.high().x - low_.x) / pitch_) + 2;
  rows_ = static_cast<int>((field.high().y - low_.y) / pitch_) + 2;
  ground_.reserve(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_));
  for (int r = 0; r < rows_; ++r) {
    for (int c = 0; c < columns_; ++c) {
      double gx = 0.0, gy = 0.0;
      ground_.push_back(static_cast<float>(field.energy({low_.x + c * pitch_, low_.y + r * pitch_}, 0.0, gx, gy)));
    }
  }
}

std::vector<SheetPoint> Vacancies::best(const Layout& layout, std::size_t without, std::size_t count) const {
  std::vector<float> cost = ground_;
  for (std::size_t k = 0; k < layout.size(); ++k) {
    if (k == without) continue;
    const SheetPoint at = layout[k].at;
    const double spacing = problem_.spacing_of(kind_, layout[k].kind);
    const int top = std::max(0, static_cast<int>(std::ceil((at.y - spacing - low_.y) / pitch_)));
    const int bottom = std::min(rows_ - 1, static_cast<int>(std::floor((at.y + spacing - low_.y) / pitch_)));
    for (int r = top; r <= bottom; ++r) {
      const double dy = low_.y + r * pitch_ - at.y, half = std::sqrt(std::max(0.0, spacing * spacing - dy * dy));
      const int left = std::max(0, static_cast<int>(std::ceil((at.x - half - low_.x) / pitch_)));
      const int right = std::min(columns_ - 1, static_cast<int>(std::floor((at.x + half - low_.x) / pitch_)));
      for (int c = left; c <= right; ++c) {
        const double dx = low_.x + c * pitch_ - at.x, short_by = spacing - std::sqrt(dx * dx + dy * dy);
        cost[static_cast<std::size_t>(r * columns_ + c)] += static_cast<float>(short_by * short_by);
      }
    }
  }
  std::vector<std::pair<float, int>> lows;
  for (int r = 0; r < rows_; ++r) {
    for (int c = 0; c < columns_; ++c) {
      const float here = cost[static_cast<std::size_t>(r * columns_ + c)];
      bool least = true;
      for (int y = std::max(0, r - 1); least && y <= std::min(rows_ - 1, r + 1); ++y) {
        for (int x = std::max(0, c - 1); least && x <= std::min(columns_ - 1, c + 1); ++x) {
          least = cost[static_cast<std::size_t>(y * columns_ + x)] >= here;
        }
      }
      if (least) lows.emplace_back(here, r * columns_ + c);
    }
  }
  std::sort(lows.begin(), lows.end());
  std::vector<SheetPoint> places;
  const double apart = problem_.spacing_of(kind_, kind_) / 3;
  for (const auto& [value, index] : lows) {
    if (places.size() >= count) break;
    const SheetPoint p{low_.x + index % columns_ * pitch_, low_.y + index / columns_ * pitch_};
    const bool fresh =
        std::all_of(places.begin(), places.end(), [&](SheetPoint q) { return distance_mm(p, q) > apart; });
    if (fresh) places.push_back(p);
  }
  return places;
}

}  // namespace sheetloupe::placement
