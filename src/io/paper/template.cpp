#include "sheetloupe/io/template.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

#include "io/paper/canvas.h"
#include "io/paper/sheet_drawing.h"
#include "io/paper/svg_pen.h"
#include "io/paper/tiling.h"
#include "sheetloupe/errors.h"

namespace sheetloupe {
namespace {

using namespace paper;

constexpr double kMargin = 10.0;  // clear: most printers reach no closer to the border
constexpr double kHead = 15.0;    // words on top of every page
constexpr double kFoot = 45.0;    // joining words, check rule, what to do
constexpr double kSide = 15.0;    // right: joining words, check rule
constexpr double kRuleMm = 100.0;
constexpr int kMostPages = 20;  // a side: a sheet of 3 m; larger figures are slips

template <typename... Values>
std::string format(const char* pattern, Values... values) {
  char buffer[256];
  std::snprintf(buffer, sizeof buffer, pattern, values...);
  return buffer;
}

void check(const UsableMap& map, const TemplateOptions& options) {
  if (!(options.print_scale >= 0.95 && options.print_scale <= 1.05)) {
    throw InputError({"print scale out of range", "print scale", format("%g", options.print_scale), "0.95 to 1.05",
                      "A print farther off was fitted to the page; print again at 100 %"});
  }
  const bool outlined = std::any_of(map.features.begin(), map.features.end(), [](const MapFeature& f) {
    return f.kind == FeatureKind::outline && f.polygon.outer.size() >= 3;
  });
  if (!outlined)
    throw InputError(
        {"the map has no outline", "usable map", "", "a feature of kind outline", "Inspect the sheet again"});
}

// "22 of 30 mm, 14 of 34", the saws in order of use.
std::string saws_of(const Plan& plan) {
  std::map<double, int> count;
  for (const Blank& b : plan.blanks) ++count[b.saw_outer_mm];
  if (count.size() > 3) return format("%zu saws", count.size());
  std::string words;
  for (const auto& [saw, n] : count)
    words += (words.empty() ? "" : ", ") + format("%d of %.4g", n, saw) + (words.empty() ? " mm" : "");
  return words;
}

/// All that the pages share.
struct Job {
  const UsableMap& map;
  const Plan& plan;
  const TemplateOptions& options;
  Laid laid;
  PageSize page;
  Box drawn;
  Tiling across, down;
  std::vector<SheetPoint> centres;  // of the blanks, from the drawing's corner

  double window_right(int column) const { return kMargin + across.window(column); }
  double window_bottom(int row) const { return kMargin + kHead + down.window(row); }
};

Job job_for(const UsableMap& map, const Plan& plan, const TemplateOptions& options) {
  Job job{map, plan, options, Laid(map, options), size_of(options.letter ? Paper::letter : Paper::a4), {}, {}, {}, {}};
  job.drawn = job.laid.drawn();
  std::vector<double> xs, ys;
  for (const Blank& b : plan.blanks) {
    xs.push_back(job.laid.at(b.centre).x - job.drawn.left);
    ys.push_back(job.laid.at(b.centre).y - job.drawn.top);
    job.centres.push_back({xs.back(), ys.back()});
  }
  const double wide = job.page.width_mm - 2 * kMargin - kSide, high = job.page.height_mm - 2 * kMargin - kHead - kFoot;
  if (!(std::max(job.drawn.width() / wide, job.drawn.height() / high) < kMostPages)) {
    throw InputError({"the sheet is too large to print", "usable map",
                      format("%.0f x %.0f mm", job.laid.sheet().width(), job.laid.sheet().height()),
                      format("at most %d pages a side", kMostPages), "Are its coordinates in mm?"});
  }
  job.across = tile(job.drawn.width(), wide, xs);
  job.down = tile(job.drawn.height(), high, ys);
  return job;
}

void draw_head(Canvas& canvas, const Job& job, int row, int column) {
  const double right = job.page.width_mm - kMargin;
  canvas.line(kMargin, kMargin, right, kMargin, 0.5);
  double size = 8.4;
  const double width = canvas.text_width(job.map.sheet_id, size, true);
  if (width > 50) size *= 50 / width;
  canvas.text(kMargin, kMargin + 9.4, job.map.sheet_id, size, Align::left, true);
  const double first = kMargin + std::max(32.0, std::min(width, 50.0) + 5), upper = kMargin + 5.2, lower = upper + 4.3;
  canvas.text(first, upper, "Drilling template, true size", 3.1);
  const int pages = job.across.pages * job.down.pages;
  std::string page = format("Page %d of %d", row * job.across.pages + column + 1, pages);
  if (job.across.pages > 1 && job.down.pages > 1) page += format(": row %d, column %d", row + 1, column + 1);
  canvas.text(first, lower, page, 3.1);
  const double second = first + 46, third = right;
  if (job.laid.back()) {
    canvas.text(second, kMargin + 6.6, "BACK FACE", 6.4, Align::left, true);
    canvas.text(second, kMargin + 10.8, "mirrored: lies on the back only", 3.1);
  } else {
    canvas.text(second, upper, "Front face up", 3.1, Align::left, true);
    canvas.text(second, lower, saws_of(job.plan), 3.1);
  }
  canvas.text(third, upper, format("%zu %s", job.plan.blanks.size(), job.plan.blanks.size() == 1 ? "blank" : "blanks"),
              3.1, Align::right);
  const double scale = job.options.print_scale;
  canvas.text(third, lower,
              scale == 1.0 ? std::string("For a true print") : format("Made for a print of %.2f %%", 100 * scale), 3.1,
              Align::right, scale != 1.0);
  canvas.line(kMargin, kMargin + 12.7, right, kMargin + 12.7, 0.2);
}

// 100 mm of the finished print, ticked in mm. The end strokes mark the length by their middles.
void draw_rule(Canvas& canvas, const Laid& laid, double x, double y, bool upright) {
  const auto stroke = [&](double along0, double off0, double along1, double off1, double width) {
    if (upright)
      canvas.line(x + off0, y + along0, x + off1, y + along1, width);
    else
      canvas.line(x + along0, y + off0, x + along1, y + off1, width);
  };
  const double length = laid.length(kRuleMm);
  stroke(0, 0, length, 0, 0.2);
  for (int k = 0; k <= kRuleMm; ++k) {
    const double at = laid.length(k), reach = k % 10 == 0 ? 3.4 : k % 5 == 0 ? 2.2 : 1.2;
    stroke(at, 0, at, -reach, k % 100 == 0 ? 0.2 : 0.12);
  }
}

void draw_rules(Canvas& canvas, const Job& job) {
  const double x = kMargin, y = job.page.height_mm - kMargin - kFoot + 13;
  draw_rule(canvas, job.laid, x, y, false);
  canvas.text(x, y + 3.6, "Must measure 100.0 mm", 2.8);
  canvas.text(x + job.laid.length(kRuleMm), y + 3.6, "across: ________ mm", 2.8, Align::right);
  const double side = job.page.width_mm - kMargin - 0.2, top = job.page.height_mm - kMargin - kFoot - kRuleMm - 12;
  draw_rule(canvas, job.laid, side, top, true);
  canvas.turned_text(side - 5.8, top, 90, "Must measure 100.0 mm", 2.8, Align::left);
  canvas.turned_text(side - 5.8, top + job.laid.length(kRuleMm), 90, "down: ________ mm", 2.8, Align::right);
}

void draw_foot(Canvas& canvas, const Job& job) {
  const double top = job.page.height_mm - kMargin - kFoot + 19, indent = kMargin + 25;
  canvas.line(kMargin, top, job.page.width_mm - kMargin, top, 0.2);
  const struct {
    const char *head, *words;
  } lines[] = {
      {"Before drilling",
       "1. Print at 100 %, never \"fit to page\". Both rules must read 99.8 to 100.2 mm; else do not use this print."},
      {"",
       "2. Join the pages. Lay the inner borders of both heavy edges on the sheet's sides, the solid corner on its"},
      {"", "    datum corner. Grey dashed shapes must lie over the real defects. Then fix the paper."},
      {"", "3. Punch or scribe every centre and mark the numbers on the sheet first: wet drilling dissolves paper."},
      {"Care",
       "Drill wet; fitted respirator, eyes covered. Clamp the sheet on a backing board, stop short of breaking "
       "through."},
      {"",
       "Never hold abrasive by hand on a turning part. A plan certifies no strength. Local rules and trained practice"},
      {"", "come first. In each core: the blank's number, the saw's outer diameter in mm under it."},
  };
  double y = top;
  for (const auto& line : lines) {
    y += 3.55;
    canvas.text(kMargin, y, line.head, 2.75, Align::left, true);
    canvas.text(indent, y, line.words, 2.75);
  }
}

// A, B, ... Z, then A1, B1, ...
std::string mark_name(int k) {
  std::string name(1, static_cast<char>('A' + k % 26));
  return k < 26 ? name : name + std::to_string(k / 26);
}

// Half a diamond is black on each page: on the first the half before the seam, on the next the half after it.
void draw_mark(Canvas& canvas, double x, double y, bool upright, bool before, const std::string& name) {
  const auto put = [&](double along, double off) {  // along the seam, square to it
    return upright ? SheetPoint{x + off, y + along} : SheetPoint{x + along, y + off};
  };
  const double half = before ? -4.0 : 4.0;
  canvas.fill_ring({put(-3, 0), put(3, 0), put(0, half)}, kBlack);
  canvas.ring({put(-3, 0), put(0, -half), put(3, 0)}, 0.2, kBlack);
  const SheetPoint a = put(0, before ? -7 : -4), b = put(0, before ? 4 : 7);
  canvas.line(a.x, a.y, b.x, b.y, 0.2);
  const SheetPoint c = upright ? SheetPoint{x + 3.2, y - 5.4} : SheetPoint{x + 5.4, y - 1.6};
  canvas.band(c.x, c.y, 0, 2.6, kWhite);
  canvas.text(c.x, c.y + 1.5, name, 4.2, Align::middle, true);
}

void chain_line(Canvas& canvas, double x0, double y0, double x1, double y1) {
  const double pattern[] = {5, 1, 0.8, 1};
  cairo_set_dash(canvas.cairo(), pattern, 4, 0);
  canvas.line(x0, y0, x1, y1, 0.2);
  canvas.no_dashes();
}

// One seam of a page: `index` counts the seam's stretches over the whole drawing, so that every pair has its own
// letters. A lone seam gets four marks, others two a stretch.
struct Seam {
  bool upright;
  double at, from, to;  // on the page, mm
  int index;
  bool before;  // this page lies before the seam and goes under the next
  int next_page;
  double words_at;  // beyond the window, on the page
};

// Near `along`, the place on the seam that keeps a mark clear of every centre cross, or as far as can be.
double clear_place(const Seam& seam, double along, const std::vector<SheetPoint>& centres) {
  constexpr double kReach = 13.0;  // a mark's 7 mm, a cross's 4.5 and some
  double best = along, farthest = -1.0;
  for (const double shift : {0.0, 3.0, -3.0, 6.0, -6.0, 9.0, -9.0, 12.0, -12.0}) {
    const double at = std::clamp(along + shift, seam.from + 8, std::max(seam.from + 8, seam.to - 8));
    double nearest = kReach;
    for (const SheetPoint& c : centres)
      nearest =
          std::min(nearest, seam.upright ? std::hypot(c.x - seam.at, c.y - at) : std::hypot(c.x - at, c.y - seam.at));
    if (nearest > farthest) {
      farthest = nearest;
      best = at;
    }
  }
  return best;
}

// `centres` of the blanks on this page, whether or not they show.
void draw_seam(Canvas& canvas, const Job& job, const Seam& seam, const std::vector<SheetPoint>& centres) {
  const bool lone = job.across.pages * job.down.pages == 2;
  const int marks = lone ? 4 : 2;
  if (seam.upright)
    chain_line(canvas, seam.at, seam.from, seam.at, seam.to);
  else
    chain_line(canvas, seam.from, seam.at, seam.to, seam.at);
  for (int k = 0; k < marks; ++k) {
    const double along = clear_place(seam, seam.from + (seam.to - seam.from) * (k + 0.6) / (marks + 0.2), centres);
    draw_mark(canvas, seam.upright ? seam.at : along, seam.upright ? along : seam.at, seam.upright, seam.before,
              mark_name(seam.index * marks + k));
  }
  if (!seam.before) return;
  const std::string words =
      format("Cut page %d at its chain line and lay it over this strip: line on line, each diamond closing. Then tape.",
             seam.next_page);
  if (seam.upright)
    canvas.turned_text(seam.words_at, (seam.from + seam.to) / 2, 90, words, 2.7, Align::middle);
  else
    canvas.text((seam.from + seam.to) / 2, seam.words_at, words, 2.7, Align::middle);
}

void draw_seams(Canvas& canvas, const Job& job, int row, int column) {
  const double x0 = kMargin - column * job.across.step, y0 = kMargin + kHead - row * job.down.step;
  const int page = row * job.across.pages + column + 1, columns = job.across.pages;
  std::vector<SheetPoint> centres;
  for (const SheetPoint& c : job.centres) centres.push_back({x0 + c.x, y0 + c.y});
  const int upright_stretches = (columns - 1) * job.down.pages;
  for (const bool before : {false, true}) {
    const int i = before ? column : column - 1;
    if (i >= 0 && i + 1 < columns)
      draw_seam(canvas, job,
                {true, x0 + job.across.seam(i), kMargin + kHead, job.window_bottom(row), row * (columns - 1) + i,
                 before, page + 1, job.window_right(column) + 4.4},
                centres);
    const int j = before ? row : row - 1;
    if (j >= 0 && j + 1 < job.down.pages)
      draw_seam(canvas, job,
                {false, y0 + job.down.seam(j), kMargin, job.window_right(column),
                 upright_stretches + j * columns + column, before, page + columns, job.window_bottom(row) + 4.6},
                centres);
  }
}

void draw_page(Canvas& canvas, const Job& job, int row, int column) {
  draw_head(canvas, job, row, column);
  cairo_t* cairo = canvas.cairo();
  cairo_save(cairo);
  cairo_rectangle(cairo, kMargin, kMargin + kHead, job.across.window(column), job.down.window(row));
  cairo_clip(cairo);
  cairo_translate(cairo, kMargin - column * job.across.step - job.drawn.left,
                  kMargin + kHead - row * job.down.step - job.drawn.top);
  draw_sheet(canvas, job.laid, job.map, job.plan, job.options.taken);
  cairo_restore(cairo);
  draw_seams(canvas, job, row, column);
  draw_rules(canvas, job);
  draw_foot(canvas, job);
}

}  // namespace

std::string template_pdf(const UsableMap& map, const Plan& plan, const TemplateOptions& options) {
  check(map, options);
  const Job job = job_for(map, plan, options);
  Canvas canvas(job.page.width_mm, job.page.height_mm);
  canvas.title(map.sheet_id + (options.back ? ": drilling template, back" : ": drilling template"));
  for (int row = 0; row < job.down.pages; ++row) {
    for (int column = 0; column < job.across.pages; ++column) {
      if (row + column > 0) canvas.next_page();
      draw_page(canvas, job, row, column);
    }
  }
  return canvas.finish();
}

std::string template_svg(const UsableMap& map, const Plan& plan, const TemplateOptions& options) {
  check(map, options);
  const Laid laid(map, options);
  const Box box = laid.drawn();
  SvgPen pen(box.left, box.top, box.width(), box.height(),
             map.sheet_id + (options.back ? ": drilling template, back, mirrored" : ": drilling template, front"));
  draw_sheet(pen, laid, map, plan, options.taken);
  return pen.finish();
}

}  // namespace sheetloupe
