// How thick the sheet is at every place, from caliper readings and the located profiles of its edges.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/plies.h"
#include "sheetloupe/usable_build.h"

namespace sheetloupe {

struct ThicknessPoint {
  SheetPoint at;  // front frame
  double mm = 0.0;
};

/// Points of one edge's profile on the sheet. `from_mm`: how far the picture's left end lies from the side's left end
/// as seen from outside; the front face is up. Sheet of `width` along x and `height` along y.
std::vector<ThicknessPoint> locate_profile(const EdgeReading& edge, double from_mm, double width_mm, double height_mm);

class ThicknessField {
 public:
  /// A twisted plane through all points, and beside it what near points have left over, weighted by 1 / distance^2
  /// (Shepard 1968). Fewer than four points or points in one line: their mean plus the left-overs.
  explicit ThicknessField(std::vector<ThicknessPoint> points);
  bool empty() const { return points_.empty(); }
  double at(SheetPoint p) const;

 private:
  std::vector<ThicknessPoint> points_;
  std::array<double, 4> plane_{};  // 1, x, y, xy about the points' middle, over their half extent
  SheetPoint middle_;
  double extent_ = 1.0;
  double smooth(SheetPoint p) const;
};

/// Places thinner than `nominal_mm` by more than `tolerance_mm`, in steps of 0.1 mm; each zone carries the least
/// thickness in it.
std::vector<ThinZone> thin_zones(const ThicknessField& field, const Ring& outline, double nominal_mm,
                                 double tolerance_mm);

}  // namespace sheetloupe
