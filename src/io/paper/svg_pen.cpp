#include "io/paper/svg_pen.h"

#include <cmath>
#include <cstdio>

#include "io/page/html.h"

namespace sheetloupe::paper {
namespace {

// Three decimals: a thousandth of a millimetre, well below any printer.
template <typename... Numbers>
std::string format(const char* pattern, Numbers... numbers) {
  char buffer[320];
  std::snprintf(buffer, sizeof buffer, pattern, numbers...);
  return buffer;
}

std::string colour(Ink ink) {
  const auto byte = [](double share) { return static_cast<unsigned>(std::lround(share * 255)); };
  return format("#%02x%02x%02x", byte(ink.red), byte(ink.green), byte(ink.blue));
}

std::string circle_path(double x, double y, double r) {
  return format("M%.3f %.3fA%.3f %.3f 0 1 0 %.3f %.3fA%.3f %.3f 0 1 0 %.3f %.3fZ", x + r, y, r, r, x - r, y, r, r,
                x + r, y);
}

std::string ring_path(const Ring& points) {
  std::string d;
  for (const SheetPoint& p : points) d += format("%c%.3f %.3f", d.empty() ? 'M' : 'L', p.x, p.y);
  return d + "Z";
}

}  // namespace

SvgPen::SvgPen(double x0, double y0, double width, double height, const std::string& title) {
  svg_ = format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.3fmm\" height=\"%.3fmm\" viewBox=\"%.3f %.3f %.3f %.3f\" "
      "fill=\"none\" font-family=\"'Liberation Sans', Arial, sans-serif\">\n",
      width, height, x0, y0, width, height);
  svg_ += "<title>" + page::escaped(title) + "</title>\n";
}

void SvgPen::group(const std::string& id) { svg_ += "<g id=\"" + id + "\">\n"; }
void SvgPen::end_group() { svg_ += "</g>\n"; }

std::string SvgPen::stroke(double width, Ink ink) const {
  return format(" stroke=\"%s\" stroke-width=\"%.3f\"", colour(ink).c_str(), width) + dash_ + "/>\n";
}

void SvgPen::line(double x0, double y0, double x1, double y1, double width, Ink ink) {
  svg_ += format("<path d=\"M%.3f %.3fL%.3f %.3f\"", x0, y0, x1, y1) + stroke(width, ink);
}

void SvgPen::circle(double x, double y, double radius, double width, Ink ink) {
  svg_ += format("<circle cx=\"%.3f\" cy=\"%.3f\" r=\"%.3f\"", x, y, radius) + stroke(width, ink);
}

void SvgPen::band(double x, double y, double inner, double outer, Ink ink) {
  svg_ += "<path fill-rule=\"evenodd\" fill=\"" + colour(ink) + "\" d=\"" + circle_path(x, y, outer);
  if (inner > 0) svg_ += circle_path(x, y, inner);
  svg_ += "\"/>\n";
}

void SvgPen::ring(const Ring& points, double width, Ink ink) {
  svg_ += "<path d=\"" + ring_path(points) + "\"" + stroke(width, ink);
}

void SvgPen::fill_ring(const Ring& points, Ink ink) {
  svg_ += "<path fill=\"" + colour(ink) + "\" d=\"" + ring_path(points) + "\"/>\n";
}

void SvgPen::dashes(double on, double off) { dash_ = format(" stroke-dasharray=\"%.3f %.3f\"", on, off); }
void SvgPen::no_dashes() { dash_.clear(); }

void SvgPen::text(double x, double y, const std::string& words, double size, Align align, bool bold, Ink ink) {
  const char* anchor = align == Align::left ? "start" : align == Align::middle ? "middle" : "end";
  svg_ += format("<text x=\"%.3f\" y=\"%.3f\" font-size=\"%.2f\" text-anchor=\"%s\" fill=\"%s\"%s>", x, y, size, anchor,
                 colour(ink).c_str(), bold ? " font-weight=\"bold\"" : "") +
          page::escaped(words) + "</text>\n";
}

}  // namespace sheetloupe::paper
