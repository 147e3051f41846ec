#include "io/paper/tiling.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace sheetloupe::paper {

Tiling tile(double total, double room, const std::vector<double>& centres) {
  Tiling tiling;
  tiling.total = total;
  if (total <= room) return tiling;
  const double longest = room - Tiling::kOverlap;
  tiling.pages = 1 + static_cast<int>(std::ceil((total - room) / longest));
  // The last page may show less, never more, than it has room for.
  const double shortest = (total - room) / (tiling.pages - 1);
  constexpr int kTrials = 60;  // steps well under a millimetre on any page
  double best = -1;
  for (int i = 0; i <= kTrials; ++i) {
    Tiling trial = tiling;
    trial.step = longest - (longest - shortest) * i / kTrials;
    double clear = std::numeric_limits<double>::max();
    for (int k = 0; k + 1 < trial.pages; ++k) {
      for (const double c : centres) clear = std::min(clear, std::abs(c - trial.seam(k)));
    }
    clear = std::min(clear, 10.0);  // beyond this nothing is gained: fuller first pages
    if (clear > best + 1e-9) {
      best = clear;
      tiling.step = trial.step;
    }
  }
  return tiling;
}

}  // namespace sheetloupe::paper
