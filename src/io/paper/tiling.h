// How a drawing larger than a page is cut into pages.
#pragma once

#include <vector>

namespace sheetloupe::paper {

/// Pages along one axis: page k shows window(k) mm of the drawing from k * step on; neighbours repeat `kOverlap` and
/// meet at a seam in its middle.
struct Tiling {
  static constexpr double kOverlap = 8.0;
  int pages = 1;
  double step = 0.0;
  double total = 0.0;
  double window(int k) const { return k + 1 < pages ? step + kOverlap : total - k * step; }
  /// Between page k and page k + 1, k in [0, pages - 2].
  double seam(int k) const { return (k + 1) * step + kOverlap / 2; }
};

/// `total` drawing length, `room` on a page, both mm; `centres` along this axis: seams keep away from them as far as
/// the slack allows, because a punch mark on a seam is a poor one.
Tiling tile(double total, double room, const std::vector<double>& centres);

}  // namespace sheetloupe::paper
