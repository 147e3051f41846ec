// As many blanks of one kind as can be found beside those that are already there.
#pragma once

#include <functional>
#include <vector>

#include "placement/elastic.h"

namespace sheetloupe::placement {

struct Goal {
  int kind = 0;
  int most = 0;                // stop at this many more
  std::vector<Layout> starts;  // valid layouts to begin from, each with the required blanks in it
  int threads = 1;             // the result does not depend on it
  // Blanks and evaluations so far; false: stop. Called from several threads.
  std::function<bool(std::size_t, std::uint64_t)> keep_on;
};

/// `present`: blanks that stay (they may move unless fixed). The result holds them too and is valid.
Layout fill(const Problem& problem, const Layout& present, const Goal& goal, std::uint64_t seed, Budget& budget);

/// Hexagonal lattices in all turns and offsets, and rows stretched to the region: centres that fit beside `present`.
/// Best first, at most `keep` of each sort. The result does not depend on `threads`.
std::vector<Layout> seeds(const Problem& problem, const Layout& present, int kind, std::size_t keep, int threads);

/// One turned, shifted hexagonal lattice of this spacing; centres in the region, whether or not they touch each other.
std::vector<SheetPoint> hexagonal(const Field& field, double spacing, double angle, double u, double v);

}  // namespace sheetloupe::placement
