#include "io/paper/marks.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace sheetloupe::paper {
namespace {

constexpr double kLine = 1.7, kCasing = 4.0;  // units
constexpr Ink kCase{0, 0, 0, 0.78};

constexpr Ink hex(unsigned rgb) { return {(rgb >> 16) / 255.0, ((rgb >> 8) & 255) / 255.0, (rgb & 255) / 255.0, 1}; }

Ink faded(Ink ink, double alpha) { return {ink.red, ink.green, ink.blue, alpha}; }

struct Extents {
  double left, top, right, bottom;
};

Extents clip_of(cairo_t* c) {
  Extents e;
  cairo_clip_extents(c, &e.left, &e.top, &e.right, &e.bottom);
  return e;
}

int first_step(double from, double step) { return static_cast<int>(std::floor(from / step)); }

}  // namespace

Ink ink_of(Mark mark) {
  switch (mark) {
    case Mark::dry_spot:
      return hex(0xe69f00);
    case Mark::resin_rich:
      return hex(0x56b4e9);
    case Mark::weave_zone:
      return hex(0xcc79a7);
    case Mark::thin_zone:
      return hex(0xff7a3d);
    case Mark::usable:
      return hex(0x2fc79a);
    case Mark::not_judged:
    case Mark::suspect:
      break;
  }
  return kWhite;
}

void Marks::trace(const std::vector<Ring>& rings) {
  cairo_new_path(canvas_.cairo());
  for (const Ring& ring : rings) canvas_.trace(ring);
}

void Marks::stroke_cased(Ink ink) {
  cairo_t* c = canvas_.cairo();
  double pattern[4];
  const int dashes = cairo_get_dash_count(c);
  cairo_get_dash(c, pattern, nullptr);
  cairo_set_dash(c, nullptr, 0, 0);  // the casing is whole, so that the gaps read as well
  canvas_.use(kCase);
  cairo_set_line_width(c, kCasing * unit_);
  cairo_stroke_preserve(c);
  cairo_set_dash(c, pattern, dashes, 0);
  canvas_.use(ink);
  cairo_set_line_width(c, kLine * unit_);
  cairo_stroke(c);
  cairo_set_dash(c, nullptr, 0, 0);
}

// Parallel lines over the clip, turned from the horizontal; anchored to the picture so that neighbours match.
void Marks::hatch(double spacing, double degrees, double width, Ink ink) {
  cairo_t* c = canvas_.cairo();
  cairo_save(c);
  cairo_rotate(c, degrees * std::numbers::pi / 180);
  const Extents e = clip_of(c);
  const double step = spacing * unit_;
  canvas_.use(ink);
  cairo_set_line_width(c, width * unit_);
  for (int line = first_step(e.top, step); line * step <= e.bottom; ++line) {
    cairo_move_to(c, e.left, line * step);
    cairo_line_to(c, e.right, line * step);
  }
  cairo_stroke(c);
  cairo_restore(c);
}

void Marks::fill(Mark mark) {
  cairo_t* c = canvas_.cairo();
  switch (mark) {
    case Mark::dry_spot: {  // fine dots, like dust
      const Extents e = clip_of(c);
      const double step = 5 * unit_;
      canvas_.use(ink_of(mark));
      for (int row = first_step(e.top, step); row * step <= e.bottom; ++row) {
        for (int column = first_step(e.left, step); column * step <= e.right; ++column) {
          cairo_new_sub_path(c);
          cairo_arc(c, column * step, row * step, unit_, 0, 2 * std::numbers::pi);
        }
      }
      cairo_fill(c);
      break;
    }
    case Mark::resin_rich:  // level lines, like liquid
      hatch(5, 0, 1.2, ink_of(mark));
      break;
    case Mark::not_judged:
      canvas_.use({0, 0, 0, 0.45});
      cairo_paint(c);
      hatch(9, -45, 1.1, kWhite);
      break;
    case Mark::weave_zone:  // a leaning lattice: cloth out of square
      hatch(9, 0, 1, faded(ink_of(mark), 0.8));
      hatch(9, 66, 1, faded(ink_of(mark), 0.8));
      break;
    case Mark::thin_zone:
      canvas_.use({0, 0, 0, 0.25});
      cairo_paint(c);
      hatch(7, 90, 1, faded(ink_of(mark), 0.8));
      break;
    case Mark::usable:
    case Mark::suspect:
      break;
  }
}

void Marks::area(const std::vector<Ring>& rings, Mark mark, double least_outlined) {
  cairo_t* c = canvas_.cairo();
  if (mark != Mark::usable) {
    cairo_save(c);
    trace(rings);
    cairo_set_fill_rule(c, CAIRO_FILL_RULE_EVEN_ODD);
    cairo_clip(c);
    fill(mark);
    cairo_restore(c);
  }
  cairo_new_path(c);
  for (const Ring& ring : rings) {
    if (area_mm2(ring) >= least_outlined) canvas_.trace(ring);  // here in px2
  }
  cairo_save(c);
  const double u = unit_;
  if (mark == Mark::resin_rich) canvas_.dashes(9 * u, 5 * u);
  if (mark == Mark::suspect) canvas_.dashes(3 * u, 4 * u);
  if (mark == Mark::not_judged) {
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    canvas_.dashes(0.01, 4 * u);
  }
  if (mark == Mark::usable) {
    const std::array chain = {9 * u, 3 * u, 1.5 * u, 3 * u};
    cairo_set_dash(c, chain.data(), 4, 0);
  }
  stroke_cased(ink_of(mark));
  cairo_restore(c);
}

void Marks::pinhole(SheetPoint at) {
  canvas_.circle(at.x, at.y, 6 * unit_, kCasing * unit_, kCase);
  canvas_.circle(at.x, at.y, 6 * unit_, kLine * unit_, kPinholeInk);
  canvas_.band(at.x, at.y, 0, 1.5 * unit_, kPinholeInk);
}

void Marks::suspect_pinhole(SheetPoint at) {
  cairo_t* c = canvas_.cairo();
  cairo_new_path(c);
  cairo_arc(c, at.x, at.y, 5 * unit_, 0, 2 * std::numbers::pi);
  canvas_.dashes(3 * unit_, 4 * unit_);
  stroke_cased(ink_of(Mark::suspect));
}

void Marks::blank(SheetPoint at, double ring_inner, double ring_outer, double saw, double kerf,
                  const std::string& number) {
  const double u = unit_;
  canvas_.band(at.x, at.y, std::max(0.0, saw - kerf), saw, {0, 0, 0, 0.55});
  if (ring_outer > ring_inner) canvas_.band(at.x, at.y, ring_inner, ring_outer, {1, 1, 1, 0.42});
  canvas_.circle(at.x, at.y, saw, 1.2 * u, kWhite);
  canvas_.circle(at.x, at.y, std::max(0.0, saw - kerf), 0.7 * u, {1, 1, 1, 0.8});
  const double arm = std::min(0.6 * ring_inner, 9 * u);
  for (const double s : {-1.0, 1.0}) {
    canvas_.line(at.x + s * 0.35 * arm, at.y, at.x + s * arm, at.y, u, kWhite);
    canvas_.line(at.x, at.y + s * 0.35 * arm, at.x, at.y + s * arm, u, kWhite);
  }
  canvas_.cased_text(at.x + 2 * u, at.y - 2.5 * u, number, 13 * u, 3.4 * u, Align::left);
}

void Marks::label(SheetPoint at, const std::string& words, Align align) {
  canvas_.cased_text(at.x, at.y, words, 12 * unit_, 3.4 * unit_, align);
}

void Marks::name(SheetPoint at, const std::string& words) {
  const double size = 12 * unit_, width = canvas_.text_width(words, size, true);
  cv::Rect2d box(at.x, at.y - size, width, 1.2 * size);
  for (const double lines : {0.0, 1.2, -1.2, 2.4, -2.4}) {
    box.y = at.y - size + lines * size;
    const bool free = std::none_of(names_.begin(), names_.end(), [&](const auto& n) { return (n & box).area() > 0; });
    if (free || lines == -2.4) break;
  }
  names_.push_back(box);
  label({box.x, box.y + size}, words);
}

void Marks::line(const Ring& points) {
  trace({points});
  stroke_cased(kWhite);
}

void Marks::tick(SheetPoint from, SheetPoint to) {
  canvas_.line(from.x, from.y, to.x, to.y, 3 * unit_, kCase);
  canvas_.line(from.x, from.y, to.x, to.y, 1.2 * unit_, kWhite);
}

void Marks::solid(const Ring& points) {
  canvas_.ring(points, 2.4 * unit_, kCase);
  canvas_.fill_ring(points, kWhite);
}

}  // namespace sheetloupe::paper
