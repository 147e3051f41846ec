// The same drawing as SVG text, with named groups for programs that read it.
#pragma once

#include "io/paper/pen.h"

namespace sheetloupe::paper {

class SvgPen : public Pen {
 public:
  /// One unit of the drawing is one mm on paper; the picture shows x0..x0+width, y0..y0+height.
  SvgPen(double x0, double y0, double width, double height, const std::string& title);

  void group(const std::string& id) override;
  void end_group() override;
  void line(double x0, double y0, double x1, double y1, double width, Ink ink) override;
  void circle(double x, double y, double radius, double width, Ink ink) override;
  void band(double x, double y, double inner, double outer, Ink ink) override;
  void ring(const Ring& points, double width, Ink ink) override;
  void fill_ring(const Ring& points, Ink ink) override;
  void dashes(double on, double off) override;
  void no_dashes() override;
  void text(double x, double y, const std::string& words, double size, Align align, bool bold, Ink ink) override;

  std::string finish() const { return svg_ + "</svg>\n"; }

 private:
  std::string stroke(double width, Ink ink) const;
  std::string svg_, dash_;
};

}  // namespace sheetloupe::paper
