// Blanks laid one by one into corners: places that touch two of what bars them.
#pragma once

#include <optional>

#include "placement/elastic.h"

namespace sheetloupe::placement {

/// The corners of one kind's region that no blank makes: where its border turns, and where the border and the rings
/// round its defects meet each other.
class Corners {
 public:
  Corners(const Problem& problem, int kind);
  /// Adds blanks to a valid layout, at most `most`, each time in the free corner farthest back against the sweep's
  /// direction (radians from +x); only centres within `area`, when there is one. The result is valid.
  Layout fill(Layout layout, double direction, std::size_t most, const std::optional<Circle>& area = {}) const;

 private:
  struct Around {
    SheetPoint centre;
    double radius;
  };
  /// What makes corners in some part of the sheet.
  struct Nearby {
    std::vector<std::uint32_t> edges;
    std::vector<Around> rings;
    std::vector<SheetPoint> corners;
  };
  Nearby within(const Circle& area) const;
  /// Places where this circle meets the border or a ring round a defect.
  void meet(const Around& circle, const Nearby& nearby, std::vector<SheetPoint>& points) const;

  const Problem& problem_;
  int kind_;
  std::vector<BorderEdge> edges_;
  Nearby all_;
};

}  // namespace sheetloupe::placement
