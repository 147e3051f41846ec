#include "io/paper/canvas.h"

#include <cairo-pdf.h>

#include <array>
#include <numbers>
#include <opencv2/imgproc.hpp>
#include <stdexcept>

namespace sheetloupe::paper {
namespace {

constexpr double kPointsPerMm = 72.0 / 25.4;
constexpr double kFullTurn = 2 * std::numbers::pi;

cairo_status_t append(void* closure, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

double share_left_of(Align align) { return align == Align::left ? 0.0 : align == Align::middle ? 0.5 : 1.0; }

}  // namespace

Canvas::Canvas(double width_mm, double height_mm) {
  surface_ = cairo_pdf_surface_create_for_stream(append, &bytes_, width_mm * kPointsPerMm, height_mm * kPointsPerMm);
  // No date: the same input gives the same bytes on any day.
  cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_CREATE_DATE, "");
  context_ = cairo_create(surface_);
  cairo_scale(context_, kPointsPerMm, kPointsPerMm);
}

Canvas::Canvas(const cv::Mat& bgr) {
  // Cairo's RGB24 is a native-endian word: on little-endian machines its bytes are B, G, R, unused.
  cv::cvtColor(bgr, pixels_, cv::COLOR_BGR2BGRA);
  surface_ = cairo_image_surface_create_for_data(pixels_.data, CAIRO_FORMAT_RGB24, pixels_.cols, pixels_.rows,
                                                 static_cast<int>(pixels_.step));
  context_ = cairo_create(surface_);
  cairo_set_line_join(context_, CAIRO_LINE_JOIN_ROUND);
}

Canvas::~Canvas() {
  if (context_) cairo_destroy(context_);
  if (surface_) cairo_surface_destroy(surface_);
}

void Canvas::use(Ink ink) { cairo_set_source_rgba(context_, ink.red, ink.green, ink.blue, ink.alpha); }

void Canvas::line(double x0, double y0, double x1, double y1, double width, Ink ink) {
  use(ink);
  cairo_set_line_width(context_, width);
  cairo_move_to(context_, x0, y0);
  cairo_line_to(context_, x1, y1);
  cairo_stroke(context_);
}

void Canvas::circle(double x, double y, double radius, double width, Ink ink) {
  use(ink);
  cairo_set_line_width(context_, width);
  cairo_new_sub_path(context_);
  cairo_arc(context_, x, y, radius, 0, kFullTurn);
  cairo_stroke(context_);
}

void Canvas::band(double x, double y, double inner, double outer, Ink ink) {
  use(ink);
  cairo_new_path(context_);
  cairo_arc(context_, x, y, outer, 0, kFullTurn);
  cairo_close_path(context_);
  if (inner > 0) {
    cairo_new_sub_path(context_);
    cairo_arc_negative(context_, x, y, inner, kFullTurn, 0);
    cairo_close_path(context_);
  }
  cairo_fill(context_);
}

void Canvas::trace(const Ring& points) {
  for (std::size_t i = 0; i < points.size(); ++i)
    (i == 0 ? cairo_move_to : cairo_line_to)(context_, points[i].x, points[i].y);
  if (!points.empty()) cairo_close_path(context_);
}

void Canvas::ring(const Ring& points, double width, Ink ink) {
  use(ink);
  cairo_set_line_width(context_, width);
  cairo_new_path(context_);
  trace(points);
  cairo_stroke(context_);
}

void Canvas::fill_ring(const Ring& points, Ink ink) {
  use(ink);
  cairo_new_path(context_);
  trace(points);
  cairo_fill(context_);
}

void Canvas::fill_box(double x, double y, double w, double h, Ink ink) {
  use(ink);
  cairo_rectangle(context_, x, y, w, h);
  cairo_fill(context_);
}

void Canvas::dashes(double on, double off) {
  const std::array pattern = {on, off};
  cairo_set_dash(context_, pattern.data(), 2, 0);
}

void Canvas::no_dashes() { cairo_set_dash(context_, nullptr, 0, 0); }

double Canvas::text_width(const std::string& words, double size, bool bold) {
  cairo_select_font_face(context_, "Liberation Sans", CAIRO_FONT_SLANT_NORMAL,
                         bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(context_, size);
  cairo_text_extents_t extents;
  cairo_text_extents(context_, words.c_str(), &extents);
  return extents.x_advance;
}

void Canvas::text(double x, double y, const std::string& words, double size, Align align, bool bold, Ink ink) {
  const double width = text_width(words, size, bold);
  use(ink);
  cairo_move_to(context_, x - width * share_left_of(align), y);
  cairo_show_text(context_, words.c_str());
}

void Canvas::turned_text(double x, double y, double degrees, const std::string& words, double size, Align align) {
  cairo_save(context_);
  cairo_translate(context_, x, y);
  cairo_rotate(context_, degrees * std::numbers::pi / 180.0);
  text(0, 0, words, size, align);
  cairo_restore(context_);
}

void Canvas::cased_text(double x, double y, const std::string& words, double size, double casing, Align align) {
  const double width = text_width(words, size, true);
  cairo_new_path(context_);
  cairo_move_to(context_, x - width * share_left_of(align), y);
  cairo_text_path(context_, words.c_str());
  use({0, 0, 0, 0.78});
  cairo_set_line_width(context_, casing);
  cairo_stroke_preserve(context_);
  use(kWhite);
  cairo_fill(context_);
}

void Canvas::title(const std::string& words) {
  cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_TITLE, words.c_str());
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

cv::Mat Canvas::picture() {
  cairo_surface_flush(surface_);
  cv::Mat bgr;
  cv::cvtColor(pixels_, bgr, cv::COLOR_BGRA2BGR);
  return bgr;
}

}  // namespace sheetloupe::paper
