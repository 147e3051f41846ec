// The drilling plan on the sheet, drawn once for page and SVG: outline, datum edges, holes, numbers, lay-on check.
#pragma once

#include "io/paper/pen.h"
#include "sheetloupe/io/template.h"
#include "sheetloupe/placement.h"
#include "sheetloupe/usable.h"

namespace sheetloupe::paper {

struct Box {
  double left = 0, top = 0, right = 0, bottom = 0;
  double width() const { return right - left; }
  double height() const { return bottom - top; }
};

/// Sheet mm to paper mm: divided by the print's own scale, mirrored for the back so that the datum corner lies on the
/// right.
class Laid {
 public:
  Laid(const UsableMap& map, const TemplateOptions& options);
  SheetPoint at(SheetPoint p) const { return {(back_ ? sheet_.right - p.x : p.x) / print_scale_, p.y / print_scale_}; }
  double length(double mm) const { return mm / print_scale_; }
  bool back() const { return back_; }
  /// The outline's extent and the datum corner, sheet mm.
  const Box& sheet() const { return sheet_; }
  /// The sheet with its graduations, paper mm.
  Box drawn() const;

 private:
  Box sheet_;
  bool back_;
  double print_scale_;
};

/// The part of a blank's id after the sheet's own: "H-014-07" gives "07".
std::string short_id(const std::string& id);

/// Paper mm from the datum corner. Groups: outline, datum, defects, rings, kerf, centres, labels.
void draw_sheet(Pen& pen, const Laid& laid, const UsableMap& map, const Plan& plan, const std::vector<Circle>& taken);

}  // namespace sheetloupe::paper
