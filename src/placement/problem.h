// The question in numbers: one Field a kind of ring that can be cut at all, and the spacings between kinds.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "placement/field.h"
#include "sheetloupe/placement.h"

namespace sheetloupe::placement {

/// One ring of the order that has a saw and fits the sheet's thickness.
struct Kind {
  const RingOrder* ring = nullptr;
  const HoleSaw* saw = nullptr;
  double inner = 0.0;   // r_in: what reaches less far lies in the core
  double outer = 0.0;   // r_out
  double border = 0.0;  // from the centre to the outline
  std::unique_ptr<Field> field;
};

struct Problem {
  std::vector<std::unique_ptr<Obstacle>> obstacles;
  std::vector<Kind> kinds;                   // in the order in which they are placed
  std::vector<std::vector<double>> spacing;  // centre to centre, by kind
  std::vector<Unplaced> refused;
  double position_mm = 0.0;  // root of the sum of squares of the position errors
  double between_mm = 0.0;   // web and what drill wander adds to it

  double spacing_of(int a, int b) const { return spacing[static_cast<std::size_t>(a)][static_cast<std::size_t>(b)]; }
  const Field& field(int kind) const { return *kinds[static_cast<std::size_t>(kind)].field; }
};

/// `flawless`: as if the sheet had no defect, zone or hole: its outline only.
Problem make_problem(const UsableMap& map, const Orders& orders, const PlacementOptions& options, bool flawless);

/// Smallest saw whose plug covers the ring and its turning allowance all round; nullptr when none does.
const HoleSaw* choose_saw(const RingOrder& ring, const Orders& orders);

}  // namespace sheetloupe::placement
