#include "io/paper/sheet_drawing.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>

namespace sheetloupe::paper {
namespace {

constexpr double kDatumRoom = 13.0;  // left (on the back: right) of the datum edge: ticks and figures
constexpr double kTopRoom = 9.5;     // above the other one
constexpr double kFarRoom = 3.0;
constexpr double kHeavy = 0.8;    // width of a datum edge; its inner border is the sheet's side
constexpr double kOutline = 0.1;  // thin: where it runs along a datum edge it moves the inner border by half its width
constexpr std::size_t kLayOnDefects = 6;      // so few that each is looked for on the sheet
constexpr Ink kBand{0.925, 0.925, 0.925, 1};  // the ring itself, pale

double area_of(const MapFeature& f) {
  if (f.point) return std::numbers::pi * f.point->radius.value() * f.point->radius.value();
  return f.area_mm2.value_or(area_mm2(f.polygon));
}

Ring laid_ring(const Laid& laid, const Ring& ring) {
  Ring out;
  for (const SheetPoint& p : ring) out.push_back(laid.at(p));
  return out;
}

void draw_outline(Pen& pen, const Laid& laid, const UsableMap& map) {
  pen.group("outline");
  for (const MapFeature& f : map.features) {
    if (f.kind != FeatureKind::outline) continue;
    pen.ring(laid_ring(laid, f.polygon.outer), kOutline, kBlack);
    for (const Ring& hole : f.polygon.holes) pen.ring(laid_ring(laid, hole), kOutline, kBlack);
  }
  pen.end_group();
}

// Millimetre ticks outward of a datum edge, figures every 20 mm. `at(d, out)` is a place d along the edge.
template <typename At>
void graduate(Pen& pen, double length, bool upright, bool figures_left, const At& at) {
  for (int d = 0; d <= static_cast<int>(length); ++d) {
    const double reach = d % 10 == 0 ? 4.0 : d % 5 == 0 ? 2.6 : 1.4;
    const SheetPoint a = at(d, kHeavy + 0.2), b = at(d, kHeavy + 0.2 + reach);
    pen.line(a.x, a.y, b.x, b.y, 0.12, kBlack);
    if (d == 0 || d % 20 != 0) continue;
    const SheetPoint figure = at(d, upright ? 6.0 : 6.2);
    pen.text(figure.x, figure.y + (upright ? 0.9 : 0.0), std::to_string(d), 2.6,
             !upright       ? Align::middle
             : figures_left ? Align::right
                            : Align::left,
             false, kBlack);
  }
}

// Two heavy edges whose inner borders are the sheet's sides, a solid corner, graduations.
void draw_datum(Pen& pen, const Laid& laid) {
  pen.group("datum");
  const Box& s = laid.sheet();
  const double side = laid.back() ? 1.0 : -1.0;  // outward of the y edge on paper
  const SheetPoint corner = laid.at({0, 0}), along = laid.at({s.right, 0}), down = laid.at({0, s.bottom});
  const double out = corner.x + side * kHeavy;
  pen.fill_ring({{out, corner.y - kHeavy}, {along.x, corner.y - kHeavy}, along, corner, down, {out, down.y}}, kBlack);
  pen.fill_ring({corner, {corner.x - side * 6, corner.y}, {corner.x, corner.y + 6}}, kBlack);
  graduate(pen, s.right, false, false, [&](double d, double o) {
    const SheetPoint p = laid.at({d, 0});
    return SheetPoint{p.x, p.y - o};
  });
  graduate(pen, s.bottom, true, !laid.back(), [&](double d, double o) {
    const SheetPoint p = laid.at({0, d});
    return SheetPoint{p.x + side * o, p.y};
  });
  pen.text(corner.x + side * 12.5, corner.y - 5.4, "Datum", 2.9, laid.back() ? Align::right : Align::left, true,
           kBlack);
  pen.end_group();
}

// The largest defects that are seen on this face: they lie over the real ones when the paper is on right.
void draw_defects(Pen& pen, const Laid& laid, const UsableMap& map, const std::vector<Circle>& taken) {
  std::vector<const MapFeature*> seen;
  for (const MapFeature& f : map.features) {
    const bool here = f.face.empty() || f.face == (laid.back() ? "back" : "front");
    if (f.kind == FeatureKind::defect && f.defect != "suspect" && here) seen.push_back(&f);
  }
  std::stable_sort(seen.begin(), seen.end(), [](const auto* a, const auto* b) { return area_of(*a) > area_of(*b); });
  if (seen.size() > kLayOnDefects) seen.resize(kLayOnDefects);
  pen.group("defects");
  pen.dashes(1.2, 0.8);
  std::vector<std::pair<SheetPoint, std::string>> names;
  for (const MapFeature* f : seen) {
    if (f->point) {
      const SheetPoint c = laid.at(f->point->centre);
      const double r = std::max(0.8, laid.length(f->point->radius.value()));
      pen.circle(c.x, c.y, r, 0.15, kGrey);
      names.push_back({{c.x, c.y - r - 0.5}, f->id});
    } else {
      const Ring ring = laid_ring(laid, f->polygon.outer);
      pen.ring(ring, 0.18, kGrey);
      const auto top = std::min_element(ring.begin(), ring.end(), [](auto a, auto b) { return a.y < b.y; });
      if (top != ring.end()) names.push_back({{top->x, top->y - 0.6}, f->id});
    }
  }
  pen.no_dashes();
  for (const auto& [at, id] : names) pen.text(at.x, at.y, id, 2.1, Align::middle, false, kGrey);
  for (const Circle& hole : taken) {
    const SheetPoint c = laid.at(hole.centre);
    pen.circle(c.x, c.y, laid.length(hole.radius.value()), 0.18, kGrey);
    pen.text(c.x, c.y + 0.8, "cut", 2.4, Align::middle, false, kGrey);
  }
  pen.end_group();
}

// A broken cross with a dot: the punch goes to the dot, the arms stay visible around it.
void draw_centre(Pen& pen, SheetPoint c) {
  for (const double s : {-1.0, 1.0}) {
    pen.line(c.x + s * 0.7, c.y, c.x + s * 4, c.y, 0.16, kBlack);
    pen.line(c.x, c.y + s * 0.7, c.x, c.y + s * 4, 0.16, kBlack);
  }
  pen.band(c.x, c.y, 0, 0.22, kBlack);
}

void draw_holes(Pen& pen, const Laid& laid, const Plan& plan) {
  pen.group("rings");
  for (const Blank& b : plan.blanks) {
    const SheetPoint c = laid.at(b.centre);
    if (b.outer_diameter_mm > b.inner_diameter_mm)
      pen.band(c.x, c.y, laid.length(b.inner_diameter_mm / 2), laid.length(b.outer_diameter_mm / 2), kBand);
  }
  pen.end_group();
  pen.group("kerf");
  for (const Blank& b : plan.blanks) {
    const SheetPoint c = laid.at(b.centre);
    pen.circle(c.x, c.y, laid.length(b.saw_outer_mm / 2), 0.2, kBlack);
    pen.dashes(1.2, 0.8);
    pen.circle(c.x, c.y, laid.length(b.saw_outer_mm / 2 - b.kerf_mm), 0.13, kBlack);
    pen.no_dashes();
  }
  pen.end_group();
  pen.group("centres");
  for (const Blank& b : plan.blanks) draw_centre(pen, laid.at(b.centre));
  pen.end_group();
}

// In the core, clear of the cross: the number, and under the line the saw.
void draw_labels(Pen& pen, const Laid& laid, const Plan& plan) {
  pen.group("labels");
  for (const Blank& b : plan.blanks) {
    const SheetPoint c = laid.at(b.centre);
    char saw[16];
    std::snprintf(saw, sizeof saw, "%.4g", b.saw_outer_mm);
    pen.text(c.x + 1.1, c.y - 1.0, short_id(b.id), 4.0, Align::left, true, kBlack);
    pen.text(c.x + 1.1, c.y + 3.3, saw, 2.5, Align::left, false, kGrey);
  }
  pen.end_group();
}

}  // namespace

Laid::Laid(const UsableMap& map, const TemplateOptions& options)
    : back_(options.back), print_scale_(options.print_scale) {
  for (const MapFeature& f : map.features) {
    if (f.kind != FeatureKind::outline) continue;
    for (const SheetPoint& p : f.polygon.outer) {
      sheet_ = {std::min(sheet_.left, p.x), std::min(sheet_.top, p.y), std::max(sheet_.right, p.x),
                std::max(sheet_.bottom, p.y)};
    }
  }
}

Box Laid::drawn() const {
  const SheetPoint a = at({sheet_.left, sheet_.top}), b = at({sheet_.right, sheet_.bottom}), datum = at({0, 0});
  Box box{std::min(a.x, b.x) - kFarRoom, std::min(a.y - kFarRoom, datum.y - kTopRoom), std::max(a.x, b.x) + kFarRoom,
          b.y + kFarRoom};
  if (back_)
    box.right = std::max(box.right, datum.x + kDatumRoom);
  else
    box.left = std::min(box.left, datum.x - kDatumRoom);
  return box;
}

std::string short_id(const std::string& id) {
  const std::size_t dash = id.rfind('-');
  return dash == std::string::npos ? id : id.substr(dash + 1);
}

void draw_sheet(Pen& pen, const Laid& laid, const UsableMap& map, const Plan& plan, const std::vector<Circle>& taken) {
  draw_holes(pen, laid, plan);
  draw_outline(pen, laid, map);
  draw_datum(pen, laid);
  draw_defects(pen, laid, map, taken);
  draw_labels(pen, laid, plan);
}

}  // namespace sheetloupe::paper
