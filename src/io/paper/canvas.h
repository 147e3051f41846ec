// Vector drawing by Cairo, in millimetres on a PDF page or in pixels on a picture.
#pragma once

#include <cairo.h>

#include <opencv2/core.hpp>
#include <string>

#include "io/paper/pen.h"

namespace sheetloupe::paper {

enum class Paper { a4, letter };

struct PageSize {
  double width_mm, height_mm;  // portrait
};

/// ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1: Letter (size A) is 8.5 x 11 in.
constexpr PageSize size_of(Paper paper) { return paper == Paper::a4 ? PageSize{210.0, 297.0} : PageSize{215.9, 279.4}; }

class Canvas : public Pen {
 public:
  using Align = paper::Align;
  /// A PDF in memory; every length in mm, origin top left.
  Canvas(double width_mm, double height_mm);
  /// On a copy of a CV_8UC3 picture; every length in px, origin at the outer corner of the first pixel.
  explicit Canvas(const cv::Mat& bgr);
  ~Canvas() override;
  Canvas(const Canvas&) = delete;
  Canvas& operator=(const Canvas&) = delete;

  cairo_t* cairo() { return context_; }
  void line(double x0, double y0, double x1, double y1, double width = 0.2, Ink ink = kBlack) override;
  void circle(double x, double y, double radius, double width, Ink ink) override;
  void band(double x, double y, double inner, double outer, Ink ink) override;
  void ring(const Ring& points, double width, Ink ink) override;
  void fill_ring(const Ring& points, Ink ink) override;
  void dashes(double on, double off) override;
  void no_dashes() override;
  void text(double x, double y, const std::string& words, double size = 3.2, Align align = Align::left,
            bool bold = false, Ink ink = kBlack) override;

  void fill_box(double x, double y, double w, double h, Ink ink = kBlack);
  /// Words that run along a direction turned clockwise by `degrees` from +x.
  void turned_text(double x, double y, double degrees, const std::string& words, double size, Align align);
  /// Light words on a dark casing `casing` wide, readable on any photo.
  void cased_text(double x, double y, const std::string& words, double size, double casing, Align align);
  double text_width(const std::string& words, double size, bool bold = false);
  /// The path alone, for what the methods above do not cover.
  void trace(const Ring& points);
  void use(Ink ink);

  void title(const std::string& words);
  void next_page();
  /// Ends the PDF and gives its bytes; the canvas draws no more.
  std::string finish();
  /// The picture so far, CV_8UC3.
  cv::Mat picture();

 private:
  std::string bytes_;
  cv::Mat pixels_;
  cairo_surface_t* surface_ = nullptr;
  cairo_t* context_ = nullptr;
};

}  // namespace sheetloupe::paper
