// A face whose corners lie at unequal heights, because the sheet on the level table is thicker at one end.
#include <algorithm>
#include <cmath>

#include "sheetloupe/scale.h"

namespace sheetloupe {
namespace {

// Beyond the sheet the height of its nearest border place.
double rise_at(const CornerRise& rise, SheetPoint p) {
  const double u = std::clamp(p.x / rise.width_mm, 0.0, 1.0), v = std::clamp(p.y / rise.height_mm, 0.0, 1.0);
  const auto& r = rise.mm;
  return (1 - v) * ((1 - u) * r[0] + u * r[1]) + v * ((1 - u) * r[3] + u * r[2]);
}

// The rise moves a place by rise x tan(view) and changes by a hundredth of that over the move: each round gains two
// digits or more, so four leave less than 1e-6 mm.
SheetPoint on_level(const SheetMap& level, const CornerRise& rise, ImagePoint image) {
  const SheetPoint wanted = level.sheet_from_image(image);
  SheetPoint p = wanted;
  for (int i = 0; i < 4; ++i) {
    const SheetPoint seen = level.sheet_from_image(level.image_from_sheet_below(p, Mm(-rise_at(rise, p))));
    p = {p.x + wanted.x - seen.x, p.y + wanted.y - seen.y};
  }
  return p;
}

class RaisedMap final : public SheetMap {
 public:
  RaisedMap(std::shared_ptr<const SheetMap> level, const CornerRise& rise, const FramePose& pose)
      : level_(std::move(level)), rise_(rise), pose_(pose) {}

  ImagePoint image_from_sheet(SheetPoint point) const override { return image_from_sheet_below(point, Mm(0.0)); }

  ImagePoint image_from_sheet_below(SheetPoint p, Mm below) const override {
    const SheetPoint q{pose_.start.x + pose_.cosine * p.x - pose_.sine * p.y,
                       pose_.start.y + pose_.sine * p.x + pose_.cosine * p.y};
    return level_->image_from_sheet_below(q, Mm(below.value() - rise_at(rise_, q)));
  }

  SheetPoint sheet_from_image(ImagePoint point) const override {
    const SheetPoint q = on_level(*level_, rise_, point);
    const double x = q.x - pose_.start.x, y = q.y - pose_.start.y;
    return {pose_.cosine * x + pose_.sine * y, -pose_.sine * x + pose_.cosine * y};
  }

 private:
  std::shared_ptr<const SheetMap> level_;
  CornerRise rise_;
  FramePose pose_;
};

}  // namespace

FramePose raised_pose(const SheetMap& level, const CornerRise& rise, const std::array<ImagePoint, 4>& corners_px) {
  const SheetPoint start = on_level(level, rise, corners_px[0]), end = on_level(level, rise, corners_px[1]);
  const double length = std::max(1e-9, distance_mm(start, end));
  return {start, (end.x - start.x) / length, (end.y - start.y) / length};
}

std::shared_ptr<const SheetMap> raised_map(std::shared_ptr<const SheetMap> level, const CornerRise& rise,
                                           const FramePose& pose) {
  return std::make_shared<RaisedMap>(std::move(level), rise, pose);
}

}  // namespace sheetloupe
