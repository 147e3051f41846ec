#include "sheetloupe/io/overlay.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <opencv2/imgproc.hpp>

#include "io/paper/marks.h"
#include "io/paper/shrink.h"
#include "sheetloupe/photo.h"
#include "sheetloupe/usable_build.h"

namespace sheetloupe {
namespace {

using namespace paper;

constexpr double kSmallestHatchMm2 = 1.0;        // smaller places without a judgement would be specks on the picture
constexpr double kSmallestOutlinedUnits2 = 150;  // px of the design, squared: about a pinhole's mark
constexpr std::size_t kMostNames = 60;           // of defects, largest first; beyond this names hide the cloth

constexpr int kMostWords = 4;                // names of a kind that say the kind
constexpr double kSmallestNamedMm2 = 100.0;  // a place without a judgement that gets a name

const char* kind_words(DefectLabel kind) {
  return kind == DefectLabel::dry_spot ? "dry spot" : kind == DefectLabel::pinhole ? "pinhole" : "resin-rich";
}

class Drawing {
 public:
  Drawing(const Photo& photo, const FaceResult& face)
      : face_(face),
        k_(1.0 / whole_shrink(photo.bgr.size())),
        canvas_(shrunk(photo.bgr, whole_shrink(photo.bgr.size()))),
        marks_(canvas_, photo.bgr.cols * k_ / 1200.0) {}

  void not_judged() {
    const DefectAnalysis& d = face_.defects;
    cairo_t* c = canvas_.cairo();
    cairo_save(c);
    cairo_new_path(c);
    canvas_.trace(outline());
    cairo_clip(c);
    for (const Polygon& p : polygons_of_label(d.labels, DefectLabel::not_judged, d.mm_per_px, d.origin)) {
      if (area_mm2(p) < kSmallestHatchMm2) continue;
      // What runs along the border or round the sheet is no place that a lamp would free, and gets no name.
      if (std::all_of(p.outer.begin(), p.outer.end(), [&](SheetPoint q) {
            return q.x > 2 && q.y > 2 && q.x < face_.width_mm - 2 && q.y < face_.height_mm - 2;
          }))
        hidden_.push_back(p);
      marks_.area(rings(p), Mark::not_judged, kSmallestOutlinedUnits2 * unit() * unit());
    }
    cairo_restore(c);
  }

  void weave_zones() {
    for (const WeaveZone& zone : face_.weave_zones) marks_.area(rings(zone.polygon), Mark::weave_zone);
  }

  // Too weak to be called defects, and without a name each.
  void suspects() {
    for (const Defect& d : face_.defects.suspects) {
      if (d.kind == DefectLabel::pinhole)
        marks_.suspect_pinhole(at(d.centre));
      else
        marks_.area(rings({d.polygon, {}}), Mark::suspect);
    }
  }

  void defects() {
    for (const Defect& d : face_.defects.items) {
      if (d.kind == DefectLabel::pinhole)
        marks_.pinhole(at(d.centre));
      else
        marks_.area(rings({d.polygon, {}}), d.kind == DefectLabel::dry_spot ? Mark::dry_spot : Mark::resin_rich);
    }
  }

  // After all shapes, so that none covers them. The first few of a kind say what they are; their likes need the number
  // only, and a picture full of words hides the cloth.
  void names() {
    const auto& items = face_.defects.items;
    std::map<DefectLabel, int> told;
    for (std::size_t i = 0; i < std::min(items.size(), kMostNames); ++i) {
      const Defect& d = items[i];
      const std::string words = d.id + (++told[d.kind] <= kMostWords ? std::string(" ") + kind_words(d.kind) : "");
      if (d.kind == DefectLabel::pinhole)
        name_beside(d.centre, words);
      else
        name(d.polygon, words);
    }
    for (const WeaveZone& zone : face_.weave_zones) {
      char words[48];
      std::snprintf(words, sizeof words, "%s %.1f\u00b0",
                    zone.what == "shear" ? "out of square" : (zone.what + " leans").c_str(), std::abs(zone.worst_deg));
      name(zone.polygon.outer, words);
    }
    if (!face_.defects.suspects.empty()) {
      const Defect& first = face_.defects.suspects.front();
      if (first.kind == DefectLabel::pinhole)
        name_beside(first.centre, "suspect");
      else
        name(first.polygon, "suspect");
    }
    const auto largest = std::max_element(hidden_.begin(), hidden_.end(),
                                          [](const Polygon& a, const Polygon& b) { return area_mm2(a) < area_mm2(b); });
    if (largest != hidden_.end() && area_mm2(*largest) >= kSmallestNamedMm2) name(largest->outer, "not judged");
  }

  // The outline, two heavy edges and a solid triangle at the datum corner.
  void sides() {
    marks_.line(outline());
    const auto& c = face_.outline.corners_px;
    const SheetPoint corner = on_canvas(c[0]);
    const auto toward = [&](int i, double units) {
      const SheetPoint far = on_canvas(c[i]);
      const double length = std::max(1e-6, distance_mm(corner, far)), step = std::min(0.3 * length, units * unit());
      return SheetPoint{corner.x + (far.x - corner.x) * step / length, corner.y + (far.y - corner.y) * step / length};
    };
    for (const int i : {1, 3}) {
      const SheetPoint end = toward(i, 90);
      canvas_.line(corner.x, corner.y, end.x, end.y, 3.4 * unit(), kWhite);
    }
    marks_.solid({corner, toward(1, 26), toward(3, 26)});
  }

  // A tick every 10 mm along the top and the left side, outside the sheet; every 50 mm a longer one with its figure.
  void graduation() {
    const auto tick = [&](SheetPoint from, SheetPoint out, int mm) {
      const bool big = mm % 50 == 0;
      // Ticks keep their length in the picture; their direction follows the sheet.
      const SheetPoint a = at(from), b = at({from.x + out.x, from.y + out.y});
      const double length = std::max(1e-6, distance_mm(a, b));
      const SheetPoint step{(b.x - a.x) / length * unit(), (b.y - a.y) / length * unit()};
      const auto beyond = [&](double units) { return SheetPoint{a.x + step.x * units, a.y + step.y * units}; };
      marks_.tick(beyond(3), beyond(big ? 13 : 8));
      if (!big || mm == 0) return;
      const SheetPoint figure = beyond(20);
      // Half the figures' height down: their middle lies on the tick's line.
      marks_.label({figure.x, figure.y + 4 * unit()}, std::to_string(mm), Align::middle);
    };
    for (int x = 0; x <= face_.width_mm; x += 10) tick({x * 1.0, 0}, {0, -1}, x);
    for (int y = 0; y <= face_.height_mm; y += 10) tick({0, y * 1.0}, {-1, 0}, y);
  }

  cv::Mat take() { return canvas_.picture(); }

 private:
  double unit() const { return marks_.unit(); }

  // The canvas counts from the first pixel's outer corner, the photo from its centre.
  SheetPoint on_canvas(ImagePoint p) const { return {(p.x + 0.5) * k_, (p.y + 0.5) * k_}; }
  SheetPoint at(SheetPoint sheet) const { return on_canvas(face_.scale.map->image_from_sheet(sheet)); }

  Ring outline() const {
    Ring ring;
    for (const ImagePoint& p : face_.outline.polygon_px) ring.push_back(on_canvas(p));
    return ring;
  }

  std::vector<Ring> rings(const Polygon& polygon) const {
    return rings_at(polygon, [this](SheetPoint p) { return at(p); });
  }

  // Beside the shape's upper right.
  void name(const Ring& ring, const std::string& words) {
    if (ring.empty()) return;
    SheetPoint best = at(ring.front());
    for (const SheetPoint& p : ring) {
      const SheetPoint q = at(p);
      if (q.x - q.y > best.x - best.y) best = q;
    }
    marks_.name({best.x + 4 * unit(), best.y - 3 * unit()}, words);
  }

  void name_beside(SheetPoint place, const std::string& words) {
    const SheetPoint p = at(place);
    marks_.name({p.x + 10 * unit(), p.y - 5 * unit()}, words);
  }

  const FaceResult& face_;
  std::vector<Polygon> hidden_;  // places without a judgement inside the sheet
  double k_;
  Canvas canvas_;
  Marks marks_;
};

}  // namespace

cv::Mat draw_overlay(const Photo& photo, const FaceResult& face) {
  Drawing drawing(photo, face);
  if (!face.outline.found) return drawing.take();
  if (face.status == FaceStatus::measured) {
    drawing.not_judged();
    drawing.weave_zones();
    drawing.suspects();
    drawing.defects();
  }
  drawing.sides();
  if (face.scale.map) drawing.graduation();
  if (face.status == FaceStatus::measured) drawing.names();
  return drawing.take();
}

}  // namespace sheetloupe
