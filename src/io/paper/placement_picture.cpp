// The plan as a picture: on the face laid flat, or on plain dark ground when there is none.
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "io/paper/marks.h"
#include "io/paper/sheet_drawing.h"

namespace sheetloupe {
namespace {

using namespace paper;

constexpr double kLongest = 1800.0;                                     // px; the page shows 1100
const cv::Scalar kGround(0x40, 0x3f, 0x3a), kAround(0x58, 0x57, 0x52);  // BGR, greys of carbon and table

class Picture {
 public:
  Picture(const UsableMap& map, const std::optional<FlatPicture>& face) : laid_(map, {}) {
    const Box& s = laid_.sheet();
    room_ = std::max(1.0, 0.045 * std::max(s.width(), s.height()));
    const double wide = s.width() + 2 * room_, high = s.height() + 2 * room_;
    scale_ = std::min(kLongest / std::max({wide, high, 1.0}), 12.0);
    ground_ = cv::Mat(std::max(1, cvRound(high * scale_)), std::max(1, cvRound(wide * scale_)), CV_8UC3, kAround);
    if (face && !face->bgr.empty())
      lay(*face);
    else
      fill_outline(map);
  }

  SheetPoint at(SheetPoint p) const {
    const Box& s = laid_.sheet();
    return {(p.x - s.left + room_) * scale_, (p.y - s.top + room_) * scale_};
  }
  double length(double mm) const { return mm * scale_; }
  std::vector<Ring> rings(const Polygon& polygon) const {
    return rings_at(polygon, [this](SheetPoint p) { return at(p); });
  }
  const cv::Mat& ground() const { return ground_; }
  const Box& sheet() const { return laid_.sheet(); }
  double room() const { return room_; }

 private:
  // Pixel centres: sheet mm of target pixel i is (i + 0.5) / scale - room, and likewise in the face's picture.
  void lay(const FlatPicture& face) {
    const double k = 1.0 / (scale_ * face.mm_per_px);
    const SheetPoint corner = {laid_.sheet().left - room_ - face.origin.x, laid_.sheet().top - room_ - face.origin.y};
    const cv::Matx23d source_from_target(k, 0, corner.x / face.mm_per_px + 0.5 * k - 0.5, 0, k,
                                         corner.y / face.mm_per_px + 0.5 * k - 0.5);
    cv::warpAffine(face.bgr, ground_, source_from_target, ground_.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                   cv::BORDER_CONSTANT, kAround);
  }

  void fill_outline(const UsableMap& map) {
    Canvas canvas(ground_);
    for (const MapFeature& f : map.features) {
      if (f.kind != FeatureKind::outline) continue;
      cairo_new_path(canvas.cairo());
      for (const Ring& ring : rings(f.polygon)) canvas.trace(ring);
      cairo_set_fill_rule(canvas.cairo(), CAIRO_FILL_RULE_EVEN_ODD);
      canvas.use({kGround[2] / 255, kGround[1] / 255, kGround[0] / 255, 1});
      cairo_fill(canvas.cairo());
    }
    ground_ = canvas.picture();
  }

  Laid laid_;
  double room_ = 1.0;   // mm around the sheet, for ticks and figures
  double scale_ = 1.0;  // px per mm
  cv::Mat ground_;
};

void draw_datum(Marks& marks, const Picture& picture) {
  const Box& s = picture.sheet();
  const double near = 0.05 * picture.room(), far = 0.2 * picture.room(), longer = 0.35 * picture.room();
  for (int x = 0; x <= s.right; x += 10) {
    marks.tick(picture.at({x * 1.0, -near}), picture.at({x * 1.0, x % 50 ? -far : -longer}));
    if (x % 50 == 0) marks.label(picture.at({x * 1.0, -1.2 * longer}), std::to_string(x), Align::middle);
  }
  for (int y = 0; y <= s.bottom; y += 10) {
    marks.tick(picture.at({-near, y * 1.0}), picture.at({y % 50 ? -far : -longer, y * 1.0}));
    if (y % 50 == 0 && y > 0)
      marks.label(picture.at({-1.15 * longer, y + 0.09 * picture.room()}), std::to_string(y), Align::right);
  }
  marks.solid({picture.at({0, 0}), picture.at({6, 0}), picture.at({0, 6})});
}

void draw_feature(Marks& marks, const Picture& picture, const MapFeature& f) {
  if (f.kind == FeatureKind::outline) {
    for (const Ring& ring : picture.rings(f.polygon)) marks.line(ring);
    return;
  }
  if (f.kind == FeatureKind::usable) return;
  if (f.point) {
    if (f.kind != FeatureKind::defect) return;
    if (f.defect == "suspect")
      marks.suspect_pinhole(picture.at(f.point->centre));
    else
      marks.pinhole(picture.at(f.point->centre));
    return;
  }
  const auto mark = f.kind == FeatureKind::weave_zone  ? Mark::weave_zone
                    : f.kind == FeatureKind::thin_zone ? Mark::thin_zone
                    : f.kind != FeatureKind::defect    ? Mark::not_judged
                    : f.defect == "resin_rich"         ? Mark::resin_rich
                    : f.defect == "suspect"            ? Mark::suspect
                                                       : Mark::dry_spot;
  marks.area(picture.rings(f.polygon), mark);
}

}  // namespace

cv::Mat draw_placement(const UsableMap& map, const Plan& plan, const std::optional<FlatPicture>& face) {
  const Picture picture(map, face);
  Canvas canvas(picture.ground());
  // One design pixel at the width of the page, about 1200 px.
  Marks marks(canvas, std::max(picture.ground().cols, picture.ground().rows) / 1200.0);
  for (const MapFeature& f : map.features) draw_feature(marks, picture, f);
  for (const Blank& b : plan.blanks) {
    marks.blank(picture.at(b.centre), picture.length(b.inner_diameter_mm / 2), picture.length(b.outer_diameter_mm / 2),
                picture.length(b.saw_outer_mm / 2), picture.length(b.kerf_mm), short_id(b.id));
  }
  draw_datum(marks, picture);
  return canvas.picture();
}

}  // namespace sheetloupe
