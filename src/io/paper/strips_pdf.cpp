#include <opencv2/core.hpp>

#include "io/paper/canvas.h"
#include "sheetloupe/io/strips.h"
#include "sheetloupe/markers.h"

namespace sheetloupe {
namespace {

using paper::Canvas;

constexpr double kGap = 7.0;            // between strips, room for scissors
constexpr double kLongBarMm = 230.0;    // for a rule; the 140 mm pair fits a caliper
constexpr double kAcrossBarMm = 180.0;  // shows whether the printer stretches across the page

// All white cells of a marker as one shape on the black square: no seams between cells in any viewer.
void draw_marker(Canvas& canvas, int id, double centre_x, double centre_y) {
  const double left = centre_x - kMarkerSideMm / 2, top = centre_y - kMarkerSideMm / 2;
  canvas.fill_box(left, top, kMarkerSideMm, kMarkerSideMm);
  const cv::Mat bits = marker_bits(id);
  const double cell = kMarkerSideMm / bits.cols;
  cairo_t* cairo = canvas.cairo();
  cairo_set_source_rgb(cairo, 1, 1, 1);
  for (int r = 0; r < bits.rows; ++r) {
    for (int c = 0; c < bits.cols; ++c) {
      if (bits.at<unsigned char>(r, c) == 0) continue;
      int end = c;
      while (end < bits.cols && bits.at<unsigned char>(r, end) > 0) ++end;
      cairo_rectangle(cairo, left + c * cell, top + r * cell, (end - c) * cell, cell);
      c = end;
    }
  }
  cairo_fill(cairo);
}

// A fine upright line with a short bar through it: the caliper's jaw goes to the line.
void draw_cross(Canvas& canvas, double x, double y) {
  canvas.line(x, y - 4, x, y + 4, 0.12);
  canvas.line(x - 1.2, y, x + 1.2, y, 0.12);
}

void draw_strip(Canvas& canvas, int strip, double left, double top) {
  canvas.dashes(1.5, 1.5);
  canvas.line(left - 6, top, left + kStripLengthMm + 6, top, 0.1, paper::kGrey);
  canvas.line(left - 6, top + kStripWidthMm, left + kStripLengthMm + 6, top + kStripWidthMm, 0.1, paper::kGrey);
  canvas.no_dashes();
  canvas.line(left, top, left, top + kStripWidthMm, 0.2);
  canvas.line(left + kStripLengthMm, top, left + kStripLengthMm, top + kStripWidthMm, 0.2);
  const double middle = top + kStripWidthMm / 2, centre = left + kStripLengthMm / 2;
  for (int k = 0; k < kMarkersPerStrip; ++k)
    draw_marker(canvas, strip * kMarkersPerStrip + k, left + kMarkerCentresMm[k], middle);
  for (const double half : {kStripBarMm / 2, kLongBarMm / 2}) {
    draw_cross(canvas, centre - half, middle);
    draw_cross(canvas, centre + half, middle);
  }
  const double small = 2.1;
  canvas.text(left + 50, top + 6, "strip " + std::to_string(strip), small, Canvas::Align::middle, true);
  canvas.text(left + 100, top + 6, "tape both ends flat", small, Canvas::Align::middle);
  canvas.text(left + 55, middle + 7.5, "140 mm", small, Canvas::Align::middle);
  canvas.text(left + 195, middle + 7.5, "140 mm", small, Canvas::Align::middle);
  canvas.text(left + 10, middle + 7.5, "230", small, Canvas::Align::middle);
  canvas.text(left + 240, middle + 7.5, "230", small, Canvas::Align::middle);
}

void draw_across_bar(Canvas& canvas, double x, double page_height) {
  const double top = (page_height - kAcrossBarMm) / 2;
  canvas.line(x, top, x, top + kAcrossBarMm, 0.2);
  for (const double y : {top, top + kAcrossBarMm}) canvas.line(x - 2, y, x + 2, y, 0.12);
  canvas.turned_text(x - 1.6, page_height / 2, -90, "180 mm across the page", 2.4, Canvas::Align::middle);
}

}  // namespace

std::string strips_pdf(StripPaper which) {
  const paper::PageSize size = paper::size_of(which == StripPaper::a4 ? paper::Paper::a4 : paper::Paper::letter);
  const double width = size.height_mm, height = size.width_mm;  // landscape: all strips along the long side
  Canvas canvas(width, height);
  canvas.title("Sheetloupe strips");
  const double left = (width - kStripLengthMm) / 2 + 3;
  const double top = 36.0;
  canvas.text(left, 14, "Sheetloupe strips", 5.0, Canvas::Align::left, true);
  canvas.text(left, 20, "Print at 100 %, never \"fit to page\". Cut along the dashed lines and at the end lines.", 3.0);
  canvas.text(left, 24.5,
              "Lay the four strips around the sheet, on the table, at any angle. Tape both ends of each flat; nothing "
              "may cover a marker.",
              3.0);
  canvas.text(left, 29,
              "Measure one strip and write it in sheet.json: the 140 mm pair by caliper as strip_bar_mm, or end line "
              "to end line by rule as strip_length_mm.",
              3.0);
  for (int strip = 0; strip < kStripCount; ++strip)
    draw_strip(canvas, strip, left, top + strip * (kStripWidthMm + kGap));
  draw_across_bar(canvas, 9.5, height);
  canvas.text(left, height - 9,
              "Best of all: also measure two sides of the sheet by caliper (size_mm). Then a print that is a little "
              "too large or small does no harm.",
              3.0);
  return canvas.finish();
}

}  // namespace sheetloupe
