#include "sheetloupe/io/edge_picture.h"

#include <cmath>
#include <cstdio>

#include "io/paper/canvas.h"
#include "io/paper/marks.h"
#include "io/paper/shrink.h"
#include "io/png.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/photo.h"

namespace sheetloupe {
namespace {

using namespace paper;

constexpr Ink kWhite{1, 1, 1, 1}, kCasing{0, 0, 0, 0.75}, kLook{230 / 255.0, 159 / 255.0, 0, 1};

class EdgeDrawing {
 public:
  EdgeDrawing(const Photo& photo, const EdgeReading& edge)
      : edge_(edge),
        k_(1.0 / whole_shrink(photo.bgr.size())),
        width_(photo.bgr.cols * k_),
        canvas_(shrunk(photo.bgr, whole_shrink(photo.bgr.size()))),
        unit_(std::max(1.0, photo.bgr.cols * k_ / 1200.0)),
        words_(2 * unit_),
        marks_(canvas_, words_) {}

  void face_lines() {
    path(edge_.top_px, 2.2 * unit_, kWhite);
    path(edge_.bottom_px, 2.2 * unit_, kWhite);
  }

  void ply_lines() {
    for (const auto& line : edge_.line_px) path(line, 1.0 * unit_, kWhite, 2.2 * unit_);
  }

  // Ticks at the lines and a number in every ply, beside the band's middle.
  void ply_ruler() {
    if (edge_.line_px.empty()) return;
    const std::size_t at = edge_.line_px.front().size() / 2;
    const double x = edge_.line_px.front()[at].x;
    std::vector<ImagePoint> stops = {on(edge_.top_px, x)};
    for (const auto& line : edge_.line_px) stops.push_back(line[at]);
    stops.push_back(on(edge_.bottom_px, x));
    canvas_.line(px(stops.front()).x, px(stops.front()).y, px(stops.back()).x, px(stops.back()).y, 5 * unit_, kCasing);
    canvas_.line(px(stops.front()).x, px(stops.front()).y, px(stops.back()).x, px(stops.back()).y, 1.7 * unit_, kWhite);
    const double ply = (stops.back().y - stops.front().y) * k_ / static_cast<double>(stops.size() - 1);
    // Numbers need room: in thin plies every second, fifth or tenth is written, and the last where it has room.
    const double letters = 11 * words_;
    const int plies = static_cast<int>(stops.size()) - 1;
    const int every = ply > letters ? 1 : 2 * ply > letters ? 2 : 5 * ply > letters ? 5 : 10;
    for (int i = 0; i <= plies; ++i) {
      const SheetPoint p = px(stops[i]);
      canvas_.line(p.x - 6 * unit_, p.y, p.x + 6 * unit_, p.y, 3 * unit_, kCasing);
      canvas_.line(p.x - 6 * unit_, p.y, p.x + 6 * unit_, p.y, 1.2 * unit_, kWhite);
      const bool last = i + 1 == plies && plies % every * ply > letters;
      if (i == plies || ((i + 1) % every != 0 && !last)) continue;
      const SheetPoint next = px(stops[i + 1]);
      marks_.label({p.x + 10 * unit_, 0.5 * (p.y + next.y) + 4 * words_}, std::to_string(i + 1));
    }
  }

  void looks() {
    for (const EdgeMark& mark : edge_.marks) {
      Ring ring;
      // A little outside, so that the frame does not hide the thing.
      const double grow = 5 * unit_;
      for (std::size_t i = 0; i < 4; ++i) {
        const SheetPoint p = px(mark.box_px[i]);
        ring.push_back({p.x + (i == 0 || i == 3 ? -grow : grow), p.y + (i < 2 ? -grow : grow)});
      }
      canvas_.ring(ring, 4 * unit_, kCasing);
      canvas_.ring(ring, 1.7 * unit_, kLook);
      const std::string words = mark.kind + "?";
      const double room = width_ - canvas_.text_width(words, 12 * words_, true) - 4 * unit_;
      marks_.name({std::min(ring[1].x + 4 * unit_, room), ring[1].y}, words);
    }
  }

  void verdict() {
    std::string words = "plies: cannot tell";
    if (edge_.verdict == PlyVerdict::sure) words = std::to_string(*edge_.plies) + " plies";
    if (edge_.verdict == PlyVerdict::between)
      words = std::to_string((*edge_.plies_range)[0]) + " or " + std::to_string((*edge_.plies_range)[1]) + " plies";
    if (edge_.verdict == PlyVerdict::not_measured) words = "no edge found";
    if (edge_.mm_per_px) {
      char thick[64];
      std::snprintf(thick, sizeof thick, ", %.2f to %.2f mm thick", edge_.thickness_min_mm, edge_.thickness_max_mm);
      words += thick;
    }
    canvas_.cased_text(8 * words_, 20 * words_, words, 16 * words_, 4 * words_, Align::left);
    if (edge_.face_visible)
      canvas_.cased_text(8 * words_, 39 * words_, "a face shows beside the cut", 13 * words_, 4 * words_, Align::left);
  }

  cv::Mat take() { return canvas_.picture(); }

 private:
  SheetPoint px(ImagePoint p) const { return {(p.x + 0.5) * k_, (p.y + 0.5) * k_}; }

  static ImagePoint on(const std::vector<ImagePoint>& line, double x) {
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
      if (x > line[i + 1].x) continue;
      const double t = (x - line[i].x) / std::max(1e-6, line[i + 1].x - line[i].x);
      return {x, line[i].y + t * (line[i + 1].y - line[i].y)};
    }
    return line.back();
  }

  void path(const std::vector<ImagePoint>& points, double width, Ink ink, double casing = 0) {
    if (casing <= 0) casing = width + 2.4 * unit_;
    for (const auto& [w, colour] : {std::pair(casing, kCasing), std::pair(width, ink)}) {
      canvas_.use(colour);
      cairo_set_line_width(canvas_.cairo(), w);
      for (const ImagePoint& p : points) cairo_line_to(canvas_.cairo(), px(p).x, px(p).y);
      cairo_stroke(canvas_.cairo());
    }
  }

  const EdgeReading& edge_;
  double k_, width_;  // px of the drawing: of one px of the photo, and in all
  Canvas canvas_;
  double unit_;   // of lines: 1 px of a picture 1200 px wide
  double words_;  // of letters, larger, because a phone shows the whole picture 390 px wide
  Marks marks_;
};

}  // namespace

cv::Mat draw_edge(const Photo& photo, const EdgeReading& edge) {
  EdgeDrawing drawing(photo, edge);
  if (!edge.top_px.empty()) {
    drawing.ply_lines();
    drawing.face_lines();
    drawing.ply_ruler();
    drawing.looks();
  }
  drawing.verdict();
  return drawing.take();
}

void write_edge_picture(const std::filesystem::path& path, const Photo& photo, const EdgeReading& edge) {
  if (path.extension() != ".png")
    throw InputError({"not a PNG name", path.string(), path.extension().string(), ".png", "End the name with .png"});
  write_file(path, png_bytes(draw_edge(photo, edge)));
}

}  // namespace sheetloupe
