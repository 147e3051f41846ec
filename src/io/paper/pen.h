// What a drawing of the sheet needs from its ground: a page, a picture or an SVG file draw alike.
#pragma once

#include <string>

#include "sheetloupe/geometry.h"

namespace sheetloupe::paper {

struct Ink {
  double red = 0, green = 0, blue = 0, alpha = 1;
};
inline constexpr Ink kBlack{}, kGrey{0.45, 0.45, 0.45, 1}, kWhite{1, 1, 1, 1};

enum class Align { left, middle, right };

/// Lengths in the ground's unit (mm on paper), y down. Lines have butt ends.
class Pen {
 public:
  virtual ~Pen() = default;
  /// What follows belongs together under this name; grounds without names ignore it.
  virtual void group(const std::string& /*id*/) {}
  virtual void end_group() {}
  virtual void line(double x0, double y0, double x1, double y1, double width, Ink ink) = 0;
  virtual void circle(double x, double y, double radius, double width, Ink ink) = 0;
  /// Filled between two radii; a disc when `inner` is 0.
  virtual void band(double x, double y, double inner, double outer, Ink ink) = 0;
  virtual void ring(const Ring& points, double width, Ink ink) = 0;
  virtual void fill_ring(const Ring& points, Ink ink) = 0;
  /// Holds until `no_dashes`.
  virtual void dashes(double on, double off) = 0;
  virtual void no_dashes() = 0;
  /// Baseline at y; size is the em (1 pt = 0.353 mm).
  virtual void text(double x, double y, const std::string& words, double size, Align align, bool bold, Ink ink) = 0;
};

}  // namespace sheetloupe::paper
