// One mark per thing, drawn on a photo: a light line on a black casing, so that it reads on pale and dark ground, and a
// fill that tells the kinds apart without colour.
#pragma once

#include <string>
#include <vector>

#include "io/paper/canvas.h"

namespace sheetloupe::paper {

enum class Mark { dry_spot, resin_rich, not_judged, weave_zone, thin_zone, usable, suspect };

/// Colours after Okabe and Ito, "Color Universal Design" (2008), two of them lightened for black ground.
Ink ink_of(Mark mark);
inline constexpr Ink kPinholeInk{240 / 255.0, 228 / 255.0, 66 / 255.0, 1};

/// The polygon's rings, outer first, each corner where `at` (sheet mm to px) puts it.
template <class Place>
std::vector<Ring> rings_at(const Polygon& polygon, const Place& at) {
  std::vector<Ring> all = {polygon.outer};
  all.insert(all.end(), polygon.holes.begin(), polygon.holes.end());
  for (Ring& ring : all) {
    for (SheetPoint& p : ring) p = at(p);
  }
  return all;
}

class Marks {
 public:
  /// `unit`: px that one screen pixel of the design takes; lines are 1.7 units on a casing of 4.
  Marks(Canvas& canvas, double unit) : canvas_(canvas), unit_(unit) {}

  /// Rings in px, even-odd: holes stay open. All of it is filled; rings below `least_outlined` px2 get no line of their
  /// own, since lines around specks would hide what lies between them.
  void area(const std::vector<Ring>& rings, Mark mark, double least_outlined = 0);
  /// The same size at any scale: a pinhole is a fraction of a millimetre.
  void pinhole(SheetPoint at);
  /// What may be a pinhole: dashes around the place.
  void suspect_pinhole(SheetPoint at);
  /// Pale band, kerf as two white lines, broken cross, number. Radii in px.
  void blank(SheetPoint at, double ring_inner, double ring_outer, double saw, double kerf, const std::string& number);
  void label(SheetPoint at, const std::string& words, Align align = Align::left);
  /// The same, moved up or down by a line or two where earlier names lie.
  void name(SheetPoint at, const std::string& words);
  void line(const Ring& points);  // closed, white
  void tick(SheetPoint from, SheetPoint to);
  void solid(const Ring& points);  // a white shape, cased
  double unit() const { return unit_; }

 private:
  void trace(const std::vector<Ring>& rings);
  void fill(Mark mark);
  void hatch(double spacing, double degrees, double width, Ink ink);
  void stroke_cased(Ink ink);

  Canvas& canvas_;
  double unit_;
  std::vector<cv::Rect2d> names_;
};

}  // namespace sheetloupe::paper
