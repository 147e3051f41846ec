// Where a centre may lie for one kind of blank, as a penalty with a gradient: the static part of the search's energy.
#pragma once

#include <cstdint>
#include <vector>

#include "placement/border.h"

namespace sheetloupe::placement {

/// Energies up to kMargin^2 mean that no spacing is short: every term aims at this much more than is needed.
inline constexpr double kMargin = 2e-4;
/// Rounding allowed where a distance is exactly what is needed.
inline constexpr double kRounding = 1e-8;

/// A barred place for one kind: the annulus inner..outer must miss it.
struct Barrier {
  const Obstacle* obstacle = nullptr;
  double inner = 0.0;  // below 0: nothing fits into the core
  double outer = 0.0;
  bool in_region = false;  // its growth by `outer` is already cut out of the region, within the library's rounding
};

/// Depth by which an annulus about c is violated; below 0: how far c is from that. The gradient is a unit vector.
double violation(const Barrier& barrier, SheetPoint c, double& gx, double& gy);
/// Whether that depth is more than `mm`, which is less than `outer`.
bool violated(const Barrier& barrier, SheetPoint c, double mm);

class Field {
 public:
  /// `barriers` must outlive the field. `spare`: how much a later call may ask beyond (mm).
  Field(Region region, std::vector<Barrier> barriers, double spare);

  /// Sum of squared shortfalls; adds its gradient to (gx, gy). `extra` mm more are kept from barriers.
  double energy(SheetPoint c, double extra, double& gx, double& gy) const;
  bool allowed(SheetPoint c) const;
  /// How far the annulus is from the nearest barrier; infinite when there is none. Negative when violated.
  double clearance(SheetPoint c) const;

  const Region& region() const { return region_; }
  const std::vector<Barrier>& barriers() const { return barriers_; }
  bool empty() const { return region_.empty(); }
  SheetPoint low() const { return low_; }
  SheetPoint high() const { return high_; }

 private:
  struct Cell {
    std::uint32_t first_edge = 0, edges = 0;
    // Barriers near the cell: first those that the region does not stand for, then the others.
    std::uint32_t first_barrier = 0, needed = 0, barriers = 0;
    bool inside = false;  // every point at least kMargin and drawn_mm() inside
  };
  /// What may matter within some square of the sheet.
  struct Candidates {
    std::vector<std::uint32_t> edges, barriers;
  };
  void build_grid(double spare);
  /// Up to twice as much as the geometry library may draw a growth short: it straightens dents of a hundredth of it.
  double drawn_mm() const { return 0.02 * widest_; }
  Candidates within(const Candidates& all, SheetPoint middle, double half, double spare, bool& inside) const;
  const Cell& cell_at(SheetPoint c) const;
  /// Distance inside the region (negative outside); infinite where the border is far.
  double depth(const Cell& cell, SheetPoint c, SheetPoint& near) const;

  Region region_;
  std::vector<Barrier> barriers_;
  SheetPoint low_, high_;  // of the region
  double widest_ = 0.0;    // of the barriers' `outer`
  std::vector<BorderEdge> edges_;
  double cell_ = 3.0;
  int columns_ = 0, rows_ = 0;
  SheetPoint origin_;
  std::vector<Cell> cells_;
  std::vector<std::uint32_t> cell_edges_, cell_barriers_;
};

}  // namespace sheetloupe::placement
