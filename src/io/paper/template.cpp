#include "sheetloupe/io/template.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "io/page/html.h"
#include "io/paper/canvas.h"

namespace sheetloupe {
namespace {

using paper::Canvas;

constexpr double kMargin = 10.0;   // clear of the paper's border
constexpr double kHead = 24.0;     // words on top of every page
constexpr double kFoot = 26.0;     // cautions and rule at the bottom
constexpr double kOverlap = 10.0;  // neighbouring pages repeat this much

struct Extent {
  double width = 0, height = 0;
};

Extent extent_of(const UsableMap& map) {
  Extent e;
  for (const MapFeature& f : map.features) {
    if (f.kind != FeatureKind::outline) continue;
    for (const SheetPoint& p : f.polygon.outer) e = {std::max(e.width, p.x), std::max(e.height, p.y)};
  }
  return e;
}

// Sheet mm to paper mm: scaled by the print's own scale, mirrored for the back.
class Laid {
 public:
  Laid(const Extent& extent, const TemplateOptions& options) : extent_(extent), options_(options) {}
  SheetPoint at(SheetPoint p) const {
    const double x = options_.back ? extent_.width - p.x : p.x;
    return {x / options_.print_scale, p.y / options_.print_scale};
  }
  double length(double mm) const { return mm / options_.print_scale; }

 private:
  Extent extent_;
  const TemplateOptions& options_;
};

std::string short_id(const std::string& id) {
  const std::size_t dash = id.rfind('-');
  return dash == std::string::npos ? id : id.substr(dash + 1);
}

void draw_ring(Canvas& canvas, const Laid& laid, const Ring& ring, double width_mm) {
  cairo_t* c = canvas.cairo();
  cairo_new_path(c);
  for (const SheetPoint& p : ring) {
    const SheetPoint q = laid.at(p);
    cairo_line_to(c, q.x, q.y);
  }
  cairo_close_path(c);
  cairo_set_source_rgb(c, 0, 0, 0);
  cairo_set_line_width(c, width_mm);
  cairo_stroke(c);
}

// The sheet's outline, its datum corner and edges graduated every 10 mm.
void draw_outline(Canvas& canvas, const UsableMap& map, const Laid& laid, const Extent& e) {
  for (const MapFeature& f : map.features) {
    if (f.kind == FeatureKind::outline) draw_ring(canvas, laid, f.polygon.outer, 0.35);
  }
  for (double x = 0; x <= e.width; x += 10) {
    const SheetPoint a = laid.at({x, 0});
    canvas.line(a.x, a.y, a.x, a.y - (std::fmod(x, 50) < 1 ? 4 : 2), 0.12);
  }
  for (double y = 0; y <= e.height; y += 10) {
    const SheetPoint a = laid.at({0, y});
    const double out = laid.at({-1, y}).x - a.x;
    canvas.line(a.x, a.y, a.x + out * (std::fmod(y, 50) < 1 ? 4 : 2), a.y, 0.12);
  }
  const SheetPoint corner = laid.at({0, 0}), along = laid.at({8, 0});
  cairo_t* c = canvas.cairo();
  cairo_move_to(c, corner.x, corner.y);
  cairo_line_to(c, along.x, along.y);
  cairo_line_to(c, corner.x, laid.at({0, 8}).y);
  cairo_close_path(c);
  cairo_fill(c);
}

// The largest defects, thin: they must lie over the real ones when the paper is on right.
void draw_defects(Canvas& canvas, const UsableMap& map, const Laid& laid) {
  std::vector<const MapFeature*> defects;
  for (const MapFeature& f : map.features) {
    if (f.kind == FeatureKind::defect && !f.point) defects.push_back(&f);
  }
  std::sort(defects.begin(), defects.end(),
            [](const auto* a, const auto* b) { return a->area_mm2.value_or(0) > b->area_mm2.value_or(0); });
  if (defects.size() > 5) defects.resize(5);
  canvas.dashes(1.0, 0.8);
  for (const MapFeature* f : defects) draw_ring(canvas, laid, f->polygon.outer, 0.15);
  canvas.no_dashes();
}

void draw_blanks(Canvas& canvas, const Plan& plan, const Laid& laid) {
  for (const Blank& b : plan.blanks) {
    const SheetPoint c = laid.at(b.centre);
    canvas.circle(c.x, c.y, laid.length(b.saw_outer_mm / 2), 0.25);
    canvas.circle(c.x, c.y, laid.length(b.saw_outer_mm / 2 - b.kerf_mm), 0.12);
    canvas.line(c.x - 4, c.y, c.x + 4, c.y, 0.12);
    canvas.line(c.x, c.y - 4, c.x, c.y + 4, 0.12);
    canvas.text(c.x + 1.2, c.y - 1.6, short_id(b.id), 3.4, Canvas::Align::left, true);
  }
}

void draw_rule(Canvas& canvas, double x, double y, double length, bool across) {
  if (across)
    canvas.line(x, y, x + length, y, 0.2);
  else
    canvas.line(x, y, x, y + length, 0.2);
  for (double k = 0; k <= length; k += 10) {
    if (across)
      canvas.line(x + k, y - 1.5, x + k, y + 1.5, 0.12);
    else
      canvas.line(x - 1.5, y + k, x + 1.5, y + k, 0.12);
  }
}

// Half diamonds on the seams: they close when two pages are joined.
void draw_join(Canvas& canvas, double x, double y, const std::string& letter, bool upright) {
  cairo_t* c = canvas.cairo();
  cairo_move_to(c, x - (upright ? 3 : 5), y);
  cairo_line_to(c, x, y - (upright ? 5 : 3));
  cairo_line_to(c, x + (upright ? 3 : 5), y);
  cairo_line_to(c, x, y + (upright ? 5 : 3));
  cairo_close_path(c);
  cairo_set_source_rgb(c, 0, 0, 0);
  cairo_set_line_width(c, 0.2);
  cairo_stroke(c);
  canvas.text(x, y + 1.1, letter, 2.8, Canvas::Align::middle, true);
}

void draw_words(Canvas& canvas, const UsableMap& map, const Plan& plan, const TemplateOptions& options, double width,
                double height, int page, int pages) {
  char line[200];
  std::snprintf(line, sizeof line, "%s   %zu blanks   page %d of %d", map.sheet_id.c_str(), plan.blanks.size(), page,
                pages);
  canvas.text(kMargin, kMargin + 5, line, 5, Canvas::Align::left, true);
  canvas.text(kMargin, kMargin + 10.5,
              options.back ? "BACK: lies on the back face, mirrored" : "Front: lies on the front face",
              options.back ? 6.0 : 3.4, Canvas::Align::left, options.back);
  canvas.text(kMargin, kMargin + 15,
              "Print at 100 %. Lay the solid corner on the sheet's datum corner, dashed shapes over the real defects.",
              3.0);
  const double y = height - kMargin - 19;
  draw_rule(canvas, kMargin, y, 100, true);
  canvas.text(kMargin + 103, y + 1, "100 mm on a true print", 2.8);
  draw_rule(canvas, width - kMargin - 2, height - kMargin - 105, 100, false);
  const char* cautions[] = {"Punch or scribe the centres and mark the numbers first: wet drilling dissolves paper.",
                            "Wet cut, fitted respirator, eye protection. Clamp on a backing board, stop short of "
                            "breaking through. Never hold abrasive by hand on a turning part.",
                            "Local rules and trained practice come first. The plan knows only what the photos showed."};
  for (int i = 0; i < 3; ++i) canvas.text(kMargin, y + 7 + 4.2 * i, cautions[i], 2.7);
}

std::string circle_svg(SheetPoint c, double r, const std::string& more) {
  char text[160];
  std::snprintf(text, sizeof text, "<circle cx=\"%.3f\" cy=\"%.3f\" r=\"%.3f\"%s/>\n", c.x, c.y, r, more.c_str());
  return text;
}

}  // namespace

std::string template_pdf(const UsableMap& map, const Plan& plan, const TemplateOptions& options) {
  const paper::PageSize size = paper::size_of(options.letter ? paper::Paper::letter : paper::Paper::a4);
  const Extent e = extent_of(map);
  const Laid laid(e, options);
  const double w = size.width_mm, h = size.height_mm;
  const double room_w = w - 2 * kMargin - 10,
               room_h = h - 2 * kMargin - kHead - kFoot;  // 10: the graduation and side rule
  const auto tiles = [](double length, double room) {
    return length <= room ? 1 : 1 + static_cast<int>(std::ceil((length - room) / (room - kOverlap)));
  };
  const int columns = tiles(laid.length(e.width) + 6, room_w), rows = tiles(laid.length(e.height) + 6, room_h);
  Canvas canvas(Canvas::Kind::pdf, w, h);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < columns; ++c) {
      if (r + c > 0) canvas.next_page();
      cairo_t* cairo = canvas.cairo();
      cairo_save(cairo);
      cairo_rectangle(cairo, kMargin, kMargin + kHead - 6, room_w + 6, room_h + 6);
      cairo_clip(cairo);
      cairo_translate(cairo, kMargin + 6 - c * (room_w - kOverlap), kMargin + kHead - r * (room_h - kOverlap));
      draw_outline(canvas, map, laid, e);
      draw_defects(canvas, map, laid);
      draw_blanks(canvas, plan, laid);
      cairo_restore(cairo);
      const auto letter = [](int k) { return std::string(1, static_cast<char>('A' + k % 26)); };
      const double left = kMargin + 6, top = kMargin + kHead, half = kOverlap / 2;
      for (const int k : {0, 1}) {
        const double y = top + room_h * (k ? 0.75 : 0.25), x = left + (room_w - 6) * (k ? 0.75 : 0.25);
        if (c + 1 < columns) draw_join(canvas, left + room_w - half, y, letter(2 * c + k), true);
        if (c > 0) draw_join(canvas, left + half, y, letter(2 * (c - 1) + k), true);
        if (r + 1 < rows) draw_join(canvas, x, top + room_h - half, letter(10 + 2 * r + k), false);
        if (r > 0) draw_join(canvas, x, top + half, letter(10 + 2 * (r - 1) + k), false);
      }
      draw_words(canvas, map, plan, options, w, h, r * columns + c + 1, rows * columns);
    }
  }
  return canvas.finish();
}

std::string template_svg(const UsableMap& map, const Plan& plan, const TemplateOptions& options) {
  const Extent e = extent_of(map);
  const Laid laid(e, options);
  char head[300];
  std::snprintf(head, sizeof head,
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.3fmm\" height=\"%.3fmm\" viewBox=\"0 0 %.3f "
                "%.3f\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.2\">\n",
                laid.length(e.width), laid.length(e.height), laid.length(e.width), laid.length(e.height));
  std::string svg = head;
  svg += "<title>" + page::escaped(map.sheet_id) +
         (options.back ? ": drilling template, back" : ": drilling template, front") + "</title>\n<g id=\"outline\">\n";
  for (const MapFeature& f : map.features) {
    if (f.kind != FeatureKind::outline) continue;
    svg += "<path d=\"";
    char command = 'M';
    for (const SheetPoint& p : f.polygon.outer) {
      const SheetPoint q = laid.at(p);
      char text[64];
      std::snprintf(text, sizeof text, "%c%.3f %.3f", command, q.x, q.y);
      svg += text;
      command = 'L';
    }
    svg += "Z\"/>\n";
  }
  svg += "</g>\n<g id=\"kerf\">\n";
  for (const Blank& b : plan.blanks) {
    svg += circle_svg(laid.at(b.centre), laid.length(b.saw_outer_mm / 2), "");
    svg += circle_svg(laid.at(b.centre), laid.length(b.saw_outer_mm / 2 - b.kerf_mm), "");
  }
  svg += "</g>\n<g id=\"centres\">\n";
  for (const Blank& b : plan.blanks) {
    const SheetPoint c = laid.at(b.centre);
    char text[120];
    std::snprintf(text, sizeof text, "<path d=\"M%.3f %.3fh4M%.3f %.3fv4\"/>\n", c.x - 2, c.y, c.x, c.y - 2);
    svg += text;
  }
  svg += "</g>\n<g id=\"labels\" fill=\"#000\" stroke=\"none\" font-family=\"sans-serif\" font-size=\"3.4\">\n";
  for (const Blank& b : plan.blanks) {
    const SheetPoint c = laid.at(b.centre);
    char text[80];
    std::snprintf(text, sizeof text, "<text x=\"%.3f\" y=\"%.3f\">", c.x + 1.2, c.y - 1.6);
    svg += text + page::escaped(short_id(b.id)) + "</text>\n";
  }
  return svg + "</g>\n</svg>\n";
}

}  // namespace sheetloupe
