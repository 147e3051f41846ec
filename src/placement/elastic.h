// Blanks as springs: overlaps and violated distances cost their square, and a quasi-Newton descent pushes blanks apart.
#pragma once

#include <cstdint>
#include <random>
#include <vector>

#include "placement/problem.h"

namespace sheetloupe::placement {

struct Disc {
  int kind = 0;
  SheetPoint at;
  bool fixed = false;     // pinned: never moves
  bool required = false;  // of an earlier order: never removed
  double extra = 0.0;     // mm kept from barriers beyond what is needed
};
using Layout = std::vector<Disc>;

/// The same numbers on every machine: raw bits of the engine, no library distributions.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed) {}
  double uniform() { return static_cast<double>(engine_() >> 11U) * 0x1.0p-53; }
  std::size_t below(std::size_t n) { return static_cast<std::size_t>(uniform() * static_cast<double>(n)); }
  double normal();

 private:
  std::mt19937_64 engine_;
};

/// What may still be spent. `spent` counts energy evaluations of whole layouts.
struct Budget {
  std::uint64_t spent = 0;
  std::uint64_t limit = 0;
  bool stopped = false;
  /// So many evaluations of `active` of `all` blanks.
  void spend(std::uint64_t evaluations, std::size_t active, std::size_t all) {
    if (all > 0) spent += (evaluations * active + all - 1) / all;
  }
  bool over() const { return stopped || spent >= limit; }
};

/// Moves the discs to a local minimum of the energy and returns it. At most kMargin^2 means that every distance holds.
double relax(const Problem& problem, Layout& layout, Budget& budget);
/// Moves only these; the energy is that of the distances in which they take part. None of them may be fixed.
double relax(const Problem& problem, Layout& layout, Budget& budget, const std::vector<std::size_t>& active);
double energy_of(const Problem& problem, const Layout& layout, const std::vector<std::size_t>& active);
inline bool holds(double energy) { return energy <= kMargin * kMargin; }

/// Every distance holds exactly, within kRounding.
bool valid(const Problem& problem, const Layout& layout);
bool fits(const Problem& problem, const Layout& layout, int kind, SheetPoint at);
/// Each disc's share of the energy.
std::vector<double> strains(const Problem& problem, const Layout& layout);

}  // namespace sheetloupe::placement
