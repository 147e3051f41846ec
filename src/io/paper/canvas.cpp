#include "io/paper/canvas.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>

#include <array>
#include <stdexcept>

namespace sheetloupe::paper {
namespace {

constexpr double kPointsPerMm = 72.0 / 25.4;

cairo_status_t append(void* closure, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

Canvas::Canvas(Kind kind, double width_mm, double height_mm) {
  if (kind == Kind::pdf) {
    surface_ = cairo_pdf_surface_create_for_stream(append, &bytes_, width_mm * kPointsPerMm, height_mm * kPointsPerMm);
    context_ = cairo_create(surface_);
    cairo_scale(context_, kPointsPerMm, kPointsPerMm);
  } else {
    surface_ = cairo_svg_surface_create_for_stream(append, &bytes_, width_mm, height_mm);
    cairo_svg_surface_set_document_unit(surface_, CAIRO_SVG_UNIT_MM);
    context_ = cairo_create(surface_);
  }
  cairo_set_line_cap(context_, CAIRO_LINE_CAP_BUTT);
}

Canvas::~Canvas() {
  if (context_) cairo_destroy(context_);
  if (surface_) cairo_surface_destroy(surface_);
}

void Canvas::use(Ink ink) { cairo_set_source_rgba(context_, ink.red, ink.green, ink.blue, ink.alpha); }

void Canvas::line(double x0, double y0, double x1, double y1, double width_mm, Ink ink) {
  use(ink);
  cairo_set_line_width(context_, width_mm);
  cairo_move_to(context_, x0, y0);
  cairo_line_to(context_, x1, y1);
  cairo_stroke(context_);
}

void Canvas::box(double x, double y, double w, double h, double width_mm, Ink ink) {
  use(ink);
  cairo_set_line_width(context_, width_mm);
  cairo_rectangle(context_, x, y, w, h);
  cairo_stroke(context_);
}

void Canvas::fill_box(double x, double y, double w, double h, Ink ink) {
  use(ink);
  cairo_rectangle(context_, x, y, w, h);
  cairo_fill(context_);
}

void Canvas::circle(double x, double y, double radius, double width_mm, Ink ink) {
  use(ink);
  cairo_set_line_width(context_, width_mm);
  cairo_new_sub_path(context_);
  cairo_arc(context_, x, y, radius, 0, 6.283185307179586);
  cairo_stroke(context_);
}

void Canvas::dashes(double on_mm, double off_mm) {
  const std::array pattern = {on_mm, off_mm};
  cairo_set_dash(context_, pattern.data(), 2, 0);
}

void Canvas::no_dashes() { cairo_set_dash(context_, nullptr, 0, 0); }

double Canvas::text_width(const std::string& words, double size_mm, bool bold) {
  cairo_select_font_face(context_, "Liberation Sans", CAIRO_FONT_SLANT_NORMAL,
                         bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(context_, size_mm);
  cairo_text_extents_t extents;
  cairo_text_extents(context_, words.c_str(), &extents);
  return extents.x_advance;
}

void Canvas::text(double x, double y, const std::string& words, double size_mm, Align align, bool bold, Ink ink) {
  const double width = text_width(words, size_mm, bold);
  use(ink);
  cairo_move_to(context_, x - (align == Align::left ? 0 : align == Align::middle ? width / 2 : width), y);
  cairo_show_text(context_, words.c_str());
}

void Canvas::next_page() { cairo_show_page(context_); }

std::string Canvas::finish() {
  cairo_destroy(context_);
  context_ = nullptr;
  cairo_surface_finish(surface_);
  const cairo_status_t status = cairo_surface_status(surface_);
  cairo_surface_destroy(surface_);
  surface_ = nullptr;
  if (status != CAIRO_STATUS_SUCCESS) throw std::runtime_error(cairo_status_to_string(status));
  return std::move(bytes_);
}

}  // namespace sheetloupe::paper
