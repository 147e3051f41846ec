#include "placement/vacancies.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace sheetloupe::placement {
namespace {

// A stamp is drawn for each of so many places across a cell: a sixth of a cell off at most.
constexpr int kSub = 4;

}  // namespace

Vacancies::Vacancies(const Problem& problem, int kind) : problem_(problem), kind_(kind) {
  const Field& field = problem.field(kind);
  low_ = field.low();
  // A twelfth of the spacing: finer does not change which vacancy is best, coarser misses narrow ones.
  pitch_ = std::max(1.0, problem.spacing_of(kind, kind) / 12);
  columns_ = static_cast<int>((field.high().x - low_.x) / pitch_) + 2;
  rows_ = static_cast<int>((field.high().y - low_.y) / pitch_) + 2;
  for (std::size_t other = 0; other < problem.kinds.size(); ++other)
    rim_ = std::max(rim_, static_cast<int>(problem.spacing_of(kind, static_cast<int>(other)) / pitch_) + 2);
  stride_ = columns_ + 2 * rim_;
  // Outside the grid nothing is vacant.
  ground_.assign(static_cast<std::size_t>(stride_) * static_cast<std::size_t>(rows_ + 2 * rim_), kNowhere);
  for (int r = 0; r < rows_; ++r) {
    for (int c = 0; c < columns_; ++c) {
      double gx = 0.0, gy = 0.0;
      ground_[index(r, c)] = static_cast<float>(field.energy({low_.x + c * pitch_, low_.y + r * pitch_}, 0.0, gx, gy));
    }
  }
  for (std::size_t other = 0; other < problem.kinds.size(); ++other)
    stamps_.push_back(make_stamps(problem.spacing_of(kind, static_cast<int>(other))));
}

Vacancies::Stamps Vacancies::make_stamps(double spacing) const {
  Stamps stamps;
  stamps.reach = static_cast<int>(spacing / pitch_) + 1;
  const int across = 2 * stamps.reach + 1;
  for (int y = 0; y < kSub; ++y) {
    for (int x = 0; x < kSub; ++x) {
      for (int r = -stamps.reach; r <= stamps.reach; ++r) {
        Row row{across, across};
        for (int c = -stamps.reach; c <= stamps.reach; ++c) {
          const double dx = (c - (x + 0.5) / kSub) * pitch_, dy = (r - (y + 0.5) / kSub) * pitch_;
          const double short_by = std::max(0.0, spacing - std::sqrt(dx * dx + dy * dy));
          stamps.values.push_back(static_cast<float>(short_by * short_by));
          if (short_by <= 0.0) continue;
          row.first = std::min(row.first, c + stamps.reach);
          row.end = c + stamps.reach + 1;
        }
        if (row.first == across) row.end = across;
        stamps.rows.push_back(row);
      }
    }
  }
  return stamps;
}

void Vacancies::stamp(const Disc& disc, const Part& part) {
  const Stamps& stamps = stamps_[static_cast<std::size_t>(disc.kind)];
  const double x = (disc.at.x - low_.x) / pitch_, y = (disc.at.y - low_.y) / pitch_;
  const double left = std::floor(x), top = std::floor(y);
  const int c0 = static_cast<int>(left), r0 = static_cast<int>(top), across = 2 * stamps.reach + 1;
  const int reach = stamps.reach + 1;
  if (c0 + reach < part.left || r0 + reach < part.top || c0 - reach > part.right || r0 - reach > part.bottom) return;
  const int sub = std::min(kSub - 1, static_cast<int>((y - top) * kSub)) * kSub +
                  std::min(kSub - 1, static_cast<int>((x - left) * kSub));
  for (int r = 0; r < across; ++r) {
    const int y_at = r0 + r - stamps.reach;
    if (y_at < part.top || y_at > part.bottom) continue;
    const std::size_t line = static_cast<std::size_t>(sub) * across + r;
    const Row row = stamps.rows[line];
    const float* from = &stamps.values[line * static_cast<std::size_t>(across)];
    const int shift = c0 - stamps.reach, first = std::max(row.first, part.left - shift);
    const int end = std::min(row.end, part.right + 1 - shift);
    float* to = &cost_[index(y_at, 0)];
    for (int c = first; c < end; ++c) to[c + shift] += from[c];
  }
}

std::vector<SheetPoint> Vacancies::best(const Layout& layout, std::size_t without, std::size_t count) {
  cost_ = ground_;
  for (std::size_t k = 0; k < layout.size(); ++k) {
    if (k != without) stamp(layout[k], {0, rows_ - 1, 0, columns_ - 1});
  }
  lows_.clear();
  for (int r = 0; r < rows_; ++r) {
    const float* here = &cost_[index(r, 0)];
    const float *above = here - stride_, *below = here + stride_;
    for (int c = 0; c < columns_; ++c) {
      const float v = here[c];
      if (v > here[c - 1] || v > here[c + 1] || v > above[c] || v > below[c]) continue;
      if (v > above[c - 1] || v > above[c + 1] || v > below[c - 1] || v > below[c + 1]) continue;
      lows_.emplace_back(v, r * columns_ + c);
    }
  }
  std::sort(lows_.begin(), lows_.end());
  std::vector<SheetPoint> places;
  const double apart = problem_.spacing_of(kind_, kind_) / 3;
  for (const auto& [value, at] : lows_) {
    if (places.size() >= count) break;
    const int row = at / columns_, column = at % columns_;
    const SheetPoint p{low_.x + column * pitch_, low_.y + row * pitch_};
    const bool fresh =
        std::all_of(places.begin(), places.end(), [&](SheetPoint q) { return apart2(p, q) > apart * apart; });
    if (fresh) places.push_back(p);
  }
  return places;
}

std::pair<double, SheetPoint> Vacancies::least_within(const Layout& layout, const Circle& area) {
  const auto cell = [&](double at, double low, int count) {
    return std::clamp(static_cast<int>(std::lround((at - low) / pitch_)), 0, count - 1);
  };
  const double r = area.radius.value();
  const Part part{cell(area.centre.y - r, low_.y, rows_), cell(area.centre.y + r, low_.y, rows_),
                  cell(area.centre.x - r, low_.x, columns_), cell(area.centre.x + r, low_.x, columns_)};
  cost_.resize(ground_.size());
  for (int row = part.top; row <= part.bottom; ++row)
    std::copy(&ground_[index(row, part.left)], &ground_[index(row, part.right)] + 1, &cost_[index(row, part.left)]);
  for (const Disc& disc : layout) stamp(disc, part);
  float least = std::numeric_limits<float>::infinity();
  SheetPoint place;
  for (int row = part.top; row <= part.bottom; ++row) {
    for (int c = part.left; c <= part.right; ++c) {
      const float here = cost_[index(row, c)];
      if (here >= least) continue;
      least = here;
      place = {low_.x + c * pitch_, low_.y + row * pitch_};
    }
  }
  return {least, place};
}

}  // namespace sheetloupe::placement
