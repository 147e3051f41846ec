#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/usable_build.h"

namespace sheetloupe {
namespace {

constexpr double kStepMm = 0.2;
constexpr int kShift = 4;  // fillPoly takes sixteenths of a pixel

std::vector<cv::Point> pixels(const Ring& ring, SheetPoint origin) {
  std::vector<cv::Point> points;
  for (const SheetPoint& p : ring) {
    points.emplace_back(cvRound(((p.x - origin.x) / kStepMm - 0.5) * (1 << kShift)),
                        cvRound(((p.y - origin.y) / kStepMm - 0.5) * (1 << kShift)));
  }
  return points;
}

void fill(cv::Mat& mask, const Polygon& polygon, SheetPoint origin, double value) {
  std::vector<std::vector<cv::Point>> rings = {pixels(polygon.outer, origin)};
  for (const Ring& hole : polygon.holes) rings.push_back(pixels(hole, origin));
  cv::fillPoly(mask, rings, cv::Scalar(value), cv::LINE_8, kShift);
}

}  // namespace

UsableShare usable_share(const UsableMap& map) {
  SheetPoint low{1e9, 1e9}, high{-1e9, -1e9};
  for (const MapFeature& f : map.features) {
    if (f.kind != FeatureKind::outline) continue;
    for (const SheetPoint& p : f.polygon.outer) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
  }
  if (high.x <= low.x) return {};
  cv::Mat mask = cv::Mat::zeros(cvCeil((high.y - low.y) / kStepMm), cvCeil((high.x - low.x) / kStepMm), CV_8UC1);
  for (const MapFeature& f : map.features) {
    if (f.kind == FeatureKind::outline) fill(mask, f.polygon, low, 255);
  }
  const double whole = cv::countNonZero(mask);
  for (const MapFeature& f : map.features) {
    const bool bars = f.kind == FeatureKind::defect || f.kind == FeatureKind::weave_zone ||
                      f.kind == FeatureKind::not_judged || f.kind == FeatureKind::taken;
    if (!bars) continue;
    if (f.point) {
      const cv::Point2d c((f.point->centre.x - low.x) / kStepMm - 0.5, (f.point->centre.y - low.y) / kStepMm - 0.5);
      cv::circle(mask, {cvRound(c.x * (1 << kShift)), cvRound(c.y * (1 << kShift))},
                 cvRound(f.point->radius.value() / kStepMm * (1 << kShift)), cv::Scalar(0), cv::FILLED, cv::LINE_8,
                 kShift);
    } else {
      fill(mask, f.polygon, low, 0);
    }
  }
  const double left = cv::countNonZero(mask);
  return {left * kStepMm * kStepMm, whole > 0 ? left / whole : 0.0};
}

}  // namespace sheetloupe
