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

/// All of the sheet's pieces.
Region outline_of(const UsableMap& map);
/// Where centres keep this far from the outline. A ten-thousandth of a micrometre less: a sheet that is exactly wide
/// enough keeps its one line of centres.
Region centres_within(const Region& outline, double border_mm);

/// What bars a place on the sheet: all of the map but its outline and what is usable. None: a sheet without flaw.
using Obstacles = std::shared_ptr<const std::vector<Obstacle>>;
Obstacles obstacles_of(const UsableMap& map);

struct Problem {
  Obstacles obstacles;
  std::vector<Kind> kinds;                   // in the order in which they are placed
  std::vector<std::vector<double>> spacing;  // centre to centre, by kind
  std::vector<Unplaced> refused;
  double position_mm = 0.0;  // root of the sum of squares of the position errors
  double between_mm = 0.0;   // web and what drill wander adds to it

  double spacing_of(int a, int b) const { return spacing[static_cast<std::size_t>(a)][static_cast<std::size_t>(b)]; }
  const Field& field(int kind) const { return *kinds[static_cast<std::size_t>(kind)].field; }
};

/// Of the map's features the outline only: the rest is given as `obstacles`.
Problem make_problem(const UsableMap& map, const Orders& orders, const PlacementOptions& options, Obstacles obstacles);

/// Smallest saw whose plug covers the ring and its turning allowance all round; nullptr when none does.
const HoleSaw* choose_saw(const RingOrder& ring, const Orders& orders);

}  // namespace sheetloupe::placement
