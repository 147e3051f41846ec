// Largest defect of a kind, and how much of a kind lies on a face or in its worst zone.
#include <algorithm>
#include <cmath>
#include <functional>

#include "grade/measures.h"

namespace sheetloupe::grading {
namespace {

// From here up a find counts as certain; "sure" on the page. Below, the limit may not really be broken.
constexpr double kSure = 0.9;

const std::string kNoFace = "no face was judged for defects";

std::string on_the(const GradeFace& face) { return "on the " + face.role; }

// A blob's diameter grows with the root of its area, so the relative error halves.
double diameter_u95(const GradeDefect& d) {
  return d.area_mm2 > 0 ? 0.5 * d.diameter_mm * d.area_u95_mm2 / d.area_mm2 : 0.0;
}

std::string no_face_reason(const GradeInput& input) {
  for (const GradeFace& face : input.faces) {
    if (!face.not_judged_reason.empty()) return face.not_judged_reason;
    if (!face.reason.empty()) return face.reason;
  }
  return kNoFace;
}

// What lies in a square of side `zone` whose first corner is `from`; without a zone the whole face.
struct Window {
  SheetPoint from;
  double width = 0.0, height = 0.0;
  bool holds(SheetPoint p) const {
    return p.x >= from.x && p.y >= from.y && p.x < from.x + width && p.y < from.y + height;
  }
  double area() const { return width * height; }
};

// Zones overlap by half, so that a cluster on a border is not halved; the last ones end with the face.
std::vector<Window> windows(const GradeFace& face, const std::optional<double>& zone_mm) {
  if (!zone_mm) return {{{0, 0}, face.width_mm, face.height_mm}};
  const double w = std::min(*zone_mm, face.width_mm), h = std::min(*zone_mm, face.height_mm);
  const auto starts = [](double length, double size) {
    const int steps = static_cast<int>(std::ceil((length - size) / (size / 2) - 1e-9));
    std::vector<double> list = {0.0};
    for (int i = 1; i <= steps; ++i) list.push_back(std::min(i * size / 2, length - size));
    return list;
  };
  std::vector<Window> list;
  for (const double y : starts(face.height_mm, h)) {
    for (const double x : starts(face.width_mm, w)) list.push_back({{x, y}, w, h});
  }
  return list;
}

struct Load {
  double value = 0.0, u95 = 0.0;
};

// Pinholes: each find is real with its confidence p, so the count's variance is the sum of p (1 - p).
Load pinhole_load(const GradeFace& face, const Window& window) {
  Load load;
  double variance = 0.0;
  for (const GradeDefect& d : face.defects) {
    if (d.kind != DefectLabel::pinhole || !window.holds(d.centre)) continue;
    load.value += 1;
    variance += d.confidence * (1 - d.confidence);
  }
  load.u95 = 1.96 * std::sqrt(variance);
  return load;
}

// Areas lie where their centre does: zones are far larger than the areas that matter at a limit.
Load area_load(const GradeFace& face, const Window& window, DefectLabel kind) {
  Load load;
  double variance = 0.0;
  for (const GradeDefect& d : face.defects) {
    if (d.kind != kind || !window.holds(d.centre)) continue;
    load.value += d.area_mm2;
    variance += d.area_u95_mm2 * d.area_u95_mm2 + std::pow(1.96 * d.area_mm2, 2) * d.confidence * (1 - d.confidence);
  }
  load.u95 = std::sqrt(variance);
  return load;
}

Load load_of(const GradeFace& face, const Window& window, Measure measure) {
  if (measure == Measure::pinholes_in_zone) return pinhole_load(face, window);
  const bool pinholes = measure == Measure::pinholes_per_dm2;
  const DefectLabel kind = measure == Measure::dry_spot_share ? DefectLabel::dry_spot : DefectLabel::resin_rich;
  Load load = pinholes ? pinhole_load(face, window) : area_load(face, window, kind);
  const double scale = window.area() > 0 ? (pinholes ? 1e4 : 100.0) / window.area() : 0.0;
  load.value *= scale;
  load.u95 *= scale;
  return load;
}

}  // namespace

Figure largest_defect(const GradeInput& input, DefectLabel kind) {
  Figure figure;
  double unseen = 0.0;
  for (const GradeFace& face : input.faces) {
    if (!face.judged) continue;
    if (!figure.value) figure.value = figure.u95 = 0.0;
    if (kind == DefectLabel::pinhole) unseen = std::max(unseen, face.smallest_pinhole_mm);
    for (const GradeDefect& d : face.defects) {
      if (d.kind != kind) continue;
      const double u95 = diameter_u95(d);
      if (d.confidence >= kSure) figure.low = std::max(figure.low, d.diameter_mm - u95);
      figure.high = std::max(figure.high, d.diameter_mm + u95);
      if (d.diameter_mm <= *figure.value) continue;
      figure.value = d.diameter_mm;
      figure.u95 = u95;
      figure.where = d.id + " " + on_the(face);
      figure.reason = d.confidence < kSure ? d.id + " may not be real" : "";
    }
  }
  if (!figure.value) figure.reason = no_face_reason(input);
  if (unseen > figure.high) {
    figure.high = unseen;
    figure.reason = "smaller ones than the photo shows cannot be ruled out";
  }
  return figure;
}

Figure defect_load(const GradeInput& input, const Limit& limit) {
  Figure figure;
  for (const GradeFace& face : input.faces) {
    if (!face.judged) continue;
    for (const Window& window : windows(face, limit.zone_mm)) {
      const Load load = load_of(face, window, limit.measure);
      if (figure.value && load.value <= *figure.value) continue;
      figure.value = load.value;
      figure.u95 = load.u95;
      figure.where = on_the(face);
      if (limit.zone_mm) {
        figure.where = "the zone from " + std::to_string(std::lround(window.from.x)) + ", " +
                       std::to_string(std::lround(window.from.y)) + " mm " + figure.where;
      }
    }
  }
  if (!figure.value) {
    figure.reason = no_face_reason(input);
    return figure;
  }
  if (*figure.value == 0.0) figure.where.clear();
  figure.low = std::max(0.0, *figure.value - *figure.u95);
  figure.high = *figure.value + *figure.u95;
  return figure;
}

}  // namespace sheetloupe::grading
