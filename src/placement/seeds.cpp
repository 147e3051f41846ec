#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "placement/search.h"
#include "sheetloupe/side_by_side.h"

namespace sheetloupe::placement {
namespace {

constexpr std::size_t kAngles = 24;
constexpr int kOffsets = 6;

void keep_best(std::vector<Layout>& layouts, std::size_t keep) {
  std::stable_sort(layouts.begin(), layouts.end(),
                   [](const Layout& a, const Layout& b) { return a.size() > b.size(); });
  if (layouts.size() > keep) layouts.resize(keep);
}

Layout with_fitting(const Problem& problem, const Layout& present, int kind, const std::vector<SheetPoint>& centres) {
  Layout layout = present;
  for (const SheetPoint& c : centres) {
    if (fits(problem, layout, kind, c)) layout.push_back({kind, c});
  }
  return layout;
}

// Rows of n over the region's width. Neighbouring rows hold n and n, n and n - 1, or stand square; pitch `a` within a
// row leaves the row distance sqrt(S^2 - a^2 / 4); the rows are spread over the full height.
void add_rows(const Problem& problem, const Layout& present, int kind, bool upright, std::vector<Layout>& layouts) {
  const Field& field = problem.field(kind);
  const double s = problem.spacing_of(kind, kind);
  const SheetPoint low = field.low(), high = field.high();
  const double w = upright ? high.y - low.y : high.x - low.x, h = upright ? high.x - low.x : high.y - low.y;
  const int most = static_cast<int>(w / s + 1e-9) + 1;
  for (int n = std::max(1, most - 1); n <= most + 1; ++n) {
    for (int sort = 0; sort < 3; ++sort) {  // n/n, n/n-1, square
      const double a = sort == 0 ? w / (n - 0.5) : w / std::max(1, n - 1);
      if (n > 1 && a < s - kRounding) continue;
      const double v = sort == 2 ? s : std::max(std::sqrt(std::max(0.0, s * s - a * a / 4)), s / 2);
      const int rows = static_cast<int>(h / v + 1e-9) + 1;
      const double step = rows > 1 ? h / (rows - 1) : 0.0;
      std::vector<SheetPoint> centres;
      for (int r = 0; r < rows; ++r) {
        const bool odd = sort != 2 && r % 2 == 1;
        for (int i = 0; i < n - (odd && sort == 1 ? 1 : 0); ++i) {
          const double x = (i + (odd ? 0.5 : 0.0)) * (n > 1 ? a : 0.0), y = r * step;
          centres.push_back(upright ? SheetPoint{low.x + y, low.y + x} : SheetPoint{low.x + x, low.y + y});
        }
      }
      layouts.push_back(with_fitting(problem, present, kind, centres));
    }
  }
}

// All offsets of one turn.
std::vector<std::vector<SheetPoint>> turned(const Field& field, double spacing, double angle) {
  std::vector<std::vector<SheetPoint>> lattices;
  for (int u = 0; u < kOffsets; ++u) {
    for (int v = 0; v < kOffsets; ++v)
      lattices.push_back(hexagonal(field, spacing, angle, u / static_cast<double>(kOffsets), 2.0 * v / kOffsets));
  }
  return lattices;
}

}  // namespace

std::vector<SheetPoint> hexagonal(const Field& field, double spacing, double angle, double u, double v) {
  const SheetPoint low = field.low(), high = field.high();
  const SheetPoint middle{(low.x + high.x) / 2, (low.y + high.y) / 2};
  const double row = spacing * std::sqrt(3.0) / 2, c = std::cos(angle), s = std::sin(angle);
  const int n = static_cast<int>(std::hypot(high.x - low.x, high.y - low.y) / 2 / row) + 2;
  std::vector<SheetPoint> centres;
  for (int j = -n; j <= n; ++j) {
    for (int i = -n; i <= n; ++i) {
      const double along = (i + u + (j % 2 != 0 ? 0.5 : 0.0)) * spacing, across = (j + v) * row;
      const SheetPoint p{middle.x + c * along - s * across, middle.y + s * along + c * across};
      if (p.x < low.x || p.x > high.x || p.y < low.y || p.y > high.y) continue;
      if (field.allowed(p)) centres.push_back(p);
    }
  }
  return centres;
}

std::vector<Layout> seeds(const Problem& problem, const Layout& present, int kind, std::size_t keep, int threads) {
  const Field& field = problem.field(kind);
  if (field.empty()) return {};
  const double spacing = problem.spacing_of(kind, kind);
  std::vector<Layout> lattices, rows;
  std::size_t best = 0;
  // Which centres lie in the region is most of the work, and each turn's is its own; some turns at once.
  constexpr std::size_t kAtOnce = 4;
  static_assert(kAngles % kAtOnce == 0);
  for (std::size_t first = 0; first < kAngles; first += kAtOnce) {
    std::array<std::vector<std::vector<SheetPoint>>, kAtOnce> turns;
    side_by_side(
        kAtOnce,
        [&](std::size_t a) { turns[a] = turned(field, spacing, (first + a) * std::numbers::pi / 3 / kAngles); },
        static_cast<unsigned>(threads));
    for (const auto& turn : turns) {
      for (const std::vector<SheetPoint>& centres : turn) {
        if (present.size() + centres.size() + 2 < best) continue;
        lattices.push_back(with_fitting(problem, present, kind, centres));
        best = std::max(best, lattices.back().size());
      }
      keep_best(lattices, keep);
    }
  }
  add_rows(problem, present, kind, false, rows);
  add_rows(problem, present, kind, true, rows);
  keep_best(rows, keep);
  lattices.insert(lattices.end(), rows.begin(), rows.end());
  return lattices;
}

}  // namespace sheetloupe::placement
