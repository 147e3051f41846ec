// Points, axes and shapes. The frames are those of the user's contract:
//   photo  px, after the EXIF orientation; x right, y down; pixel centres at integers
//   sheet  mm on the sheet's top face; x along the top side, y square to it, downward
// Fibre directions are axes: they repeat every 180 degrees; 0 lies along +x, positive is counter-clockwise as seen.
#pragma once

#include <cmath>
#include <numbers>
#include <vector>

#include "sheetloupe/units.h"

namespace sheetloupe {

/// A turning angle. Read it only by unit.
class Angle {
 public:
  constexpr Angle() = default;
  static constexpr Angle from_degrees(double degrees) { return Angle(degrees * std::numbers::pi / 180.0); }
  static constexpr Angle from_radians(double radians) { return Angle(radians); }
  constexpr double degrees() const { return radians_ * 180.0 / std::numbers::pi; }
  constexpr double radians() const { return radians_; }

 private:
  constexpr explicit Angle(double radians) : radians_(radians) {}
  double radians_ = 0.0;
};

/// `degrees` brought into [0, 180).
double wrap_axis_degrees(double degrees);

/// `degrees` brought into (-90, 90]: the smallest turn between two axes.
double wrap_turn_degrees(double degrees);

/// A direction without a sense, in [0, 180) degrees, counter-clockwise from +x as seen (so -y is at 90).
class Axis {
 public:
  Axis() = default;
  static Axis from_degrees(double degrees) { return Axis(wrap_axis_degrees(degrees)); }
  double degrees() const { return degrees_; }
  /// Signed smallest turn from `other` to this, in (-90, 90] degrees.
  double degrees_from(Axis other) const { return wrap_turn_degrees(degrees_ - other.degrees_); }

 private:
  explicit Axis(double degrees) : degrees_(degrees) {}
  double degrees_ = 0.0;
};

/// A place in the photo, px.
struct ImagePoint {
  double x = 0.0;
  double y = 0.0;
};

/// A place on the sheet, mm in the sheet frame.
struct SheetPoint {
  double x = 0.0;
  double y = 0.0;
};

inline double distance_mm(SheetPoint a, SheetPoint b) { return std::hypot(a.x - b.x, a.y - b.y); }
inline double distance_px(ImagePoint a, ImagePoint b) { return std::hypot(a.x - b.x, a.y - b.y); }

/// One closed ring of points; the last point is not repeated. Either winding.
using Ring = std::vector<SheetPoint>;

/// An outer ring and holes, mm in the sheet frame.
struct Polygon {
  Ring outer;
  std::vector<Ring> holes;
};

struct Circle {
  SheetPoint centre;
  Mm radius;
};

/// Area of a ring in mm2, never negative.
double area_mm2(const Ring& ring);
/// Area of a polygon less its holes, mm2.
double area_mm2(const Polygon& polygon);
/// Area centroid of a ring; the mean of its points when the area vanishes. Undefined (0,0) when empty.
SheetPoint centroid(const Ring& ring);
/// True inside the outer ring and outside all holes; on the border either answer.
bool contains(const Polygon& polygon, SheetPoint point);
/// Shortest distance from a point to the ring's line, mm; infinite when the ring is empty.
double distance_to_ring_mm(const Ring& ring, SheetPoint point);

}  // namespace sheetloupe
