// Vector drawing in millimetres on a page: what the strips, the template and its SVG share.
#pragma once

#include <cairo.h>

#include <memory>
#include <string>

namespace sheetloupe::paper {

enum class Paper { a4, letter };

struct PageSize {
  double width_mm, height_mm;  // portrait
};

/// ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1: Letter is 8.5 x 11 in.
constexpr PageSize size_of(Paper paper) { return paper == Paper::a4 ? PageSize{210.0, 297.0} : PageSize{215.9, 279.4}; }

struct Ink {
  double red = 0, green = 0, blue = 0, alpha = 1;
};
inline constexpr Ink kBlack{}, kGrey{0.45, 0.45, 0.45, 1}, kWhite{1, 1, 1, 1};

/// A document in memory; every length in mm, origin top left, y down.
class Canvas {
 public:
  enum class Kind { pdf, svg };
  Canvas(Kind kind, double width_mm, double height_mm);
  ~Canvas();
  Canvas(const Canvas&) = delete;
  Canvas& operator=(const Canvas&) = delete;

  cairo_t* cairo() { return context_; }
  void line(double x0, double y0, double x1, double y1, double width_mm = 0.2, Ink ink = kBlack);
  void box(double x, double y, double w, double h, double width_mm = 0.2, Ink ink = kBlack);
  void fill_box(double x, double y, double w, double h, Ink ink = kBlack);
  void circle(double x, double y, double radius, double width_mm = 0.2, Ink ink = kBlack);
  void dashes(double on_mm, double off_mm);
  void no_dashes();
  enum class Align { left, middle, right };
  /// Baseline at y; size is the em in mm (1 pt = 0.353 mm).
  void text(double x, double y, const std::string& words, double size_mm = 3.2, Align align = Align::left,
            bool bold = false, Ink ink = kBlack);
  double text_width(const std::string& words, double size_mm, bool bold = false);
  void next_page();
  /// Ends the document and gives its bytes; the canvas draws no more.
  std::string finish();

 private:
  void use(Ink ink);
  std::string bytes_;
  cairo_surface_t* surface_ = nullptr;
  cairo_t* context_ = nullptr;
};

}  // namespace sheetloupe::paper
