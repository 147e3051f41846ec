// The plane in which a side is straight: mm on the face when the strips gave a map, else the photo itself in units of
// about a millimetre.
#pragma once

#include <opencv2/core.hpp>

#include "sheetloupe/scale.h"

namespace sheetloupe::outline {

class Plane {
 public:
  /// `table` may be null; then `px_per_unit` photo px make a unit.
  Plane(const SheetMap* table, double px_per_unit) : table_(table), px_per_unit_(px_per_unit) {}

  cv::Point2d image_from_plane(cv::Point2d p) const {
    if (!table_) return p * px_per_unit_;
    const ImagePoint q = table_->image_from_sheet({p.x, p.y});
    return {q.x, q.y};
  }
  cv::Point2d plane_from_image(cv::Point2d p) const {
    if (!table_) return p / px_per_unit_;
    const SheetPoint q = table_->sheet_from_image({p.x, p.y});
    return {q.x, q.y};
  }
  /// Where the foot of a vertical wall under plane point `p` is seen, as a plane point; `p` itself without a map.
  cv::Point2d foot_from_edge(cv::Point2d p, Mm thickness) const {
    if (!table_) return p;
    const ImagePoint q = table_->image_from_sheet_below({p.x, p.y}, thickness);
    return plane_from_image({q.x, q.y});
  }
  bool knows_depth() const { return table_ != nullptr; }

 private:
  const SheetMap* table_;
  double px_per_unit_;
};

}  // namespace sheetloupe::outline
