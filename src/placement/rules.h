// Whether a blank may stand somewhere: exact tests on the usable map, no raster.
#pragma once

#include <string>
#include <vector>

#include "sheetloupe/placement.h"

namespace sheetloupe::placement {

/// A ring of the order with the saw chosen for it. All mm.
struct Job {
  const RingOrder* ring = nullptr;
  const HoleSaw* saw = nullptr;
  double inner = 0.0, outer = 0.0;  // radii of the harmful annulus, allowance and uncertainty included
  double saw_radius = 0.0;
  std::string refusal;  // why it cannot be made at all; empty when it can
};

/// The smallest saw whose plug covers the ring and its turning allowance.
Job job_for(const RingOrder& ring, const Orders& orders, const UsableMap& map);

/// One connected bad place with what is quickly known of it.
struct BadPlace {
  const MapFeature* feature = nullptr;
  Polygon polygon;    // simplified, see kSimplifyMm
  SheetPoint middle;  // of the bounding circle
  double radius = 0.0;
};

class Rules {
 public:
  Rules(const UsableMap& map, const Orders& orders, const PlacementOptions& options, bool flawless = false);

  /// Centre allowed for this job, other blanks aside.
  bool allows(const Job& job, SheetPoint centre) const;
  /// How far the nearest harmful place is from the annulus, mm; negative when it touches. Never above 99.
  double clearance(const Job& job, SheetPoint centre) const;
  /// Ids of defects that lie wholly in the core or the kerf of a blank here.
  std::vector<std::string> harmless(const Job& job, SheetPoint centre) const;
  /// Least distance between the centres of two blanks.
  double spacing(const Job& a, const Job& b) const;
  const std::vector<Polygon>& outlines() const { return outlines_; }

 private:
  bool inside(const Job& job, SheetPoint centre) const;
  bool bars(const Job& job, const BadPlace& place) const;
  std::vector<Polygon> outlines_;
  std::vector<BadPlace> bad_;
  const Orders& orders_;
  const PlacementOptions& options_;
};

}  // namespace sheetloupe::placement
