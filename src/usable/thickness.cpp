#include "sheetloupe/thickness.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe {
namespace {

constexpr double kRasterMm = 2.0, kZoneStepMm = 0.1;
// A caliper jaw covers some 3 mm; nearer points are one place.
constexpr double kNearMm = 3.0;

}  // namespace

std::vector<ThicknessPoint> locate_profile(const EdgeReading& edge, double from_mm, double width_mm, double height_mm) {
  std::vector<ThicknessPoint> points;
  for (const auto& [along, thickness] : edge.thickness_at_mm) {
    const double s = from_mm + along;
    SheetPoint at;
    // Seen from outside with the front face up, the top side runs from right to left of the sheet as its photo shows
    // it.
    if (edge.side == "top")
      at = {width_mm - s, 0};
    else if (edge.side == "right")
      at = {width_mm, height_mm - s};
    else if (edge.side == "bottom")
      at = {s, height_mm};
    else if (edge.side == "left")
      at = {0, s};
    else
      return {};
    // What lies beyond the corner belongs to no place of the side.
    if (at.x < -0.5 || at.y < -0.5 || at.x > width_mm + 0.5 || at.y > height_mm + 0.5) continue;
    points.push_back({at, thickness});
  }
  return points;
}

ThicknessField::ThicknessField(std::vector<ThicknessPoint> points) : points_(std::move(points)) {
  if (points_.empty()) return;
  double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9, mean = 0;
  for (const ThicknessPoint& p : points_) {
    left = std::min(left, p.at.x);
    right = std::max(right, p.at.x);
    top = std::min(top, p.at.y);
    bottom = std::max(bottom, p.at.y);
    mean += p.mm / static_cast<double>(points_.size());
  }
  middle_ = {(left + right) / 2, (top + bottom) / 2};
  extent_ = std::max({1.0, (right - left) / 2, (bottom - top) / 2});
  plane_ = {mean, 0, 0, 0};
  // A line of points says nothing about slopes across it.
  const bool spread = points_.size() >= 4 && std::min(right - left, bottom - top) > 0.2 * extent_;
  if (!spread) return;
  cv::Matx44d normal = cv::Matx44d::eye() * 1e-9;
  cv::Vec4d side(0, 0, 0, 0), fit;
  for (const ThicknessPoint& p : points_) {
    const double x = (p.at.x - middle_.x) / extent_, y = (p.at.y - middle_.y) / extent_;
    const cv::Vec4d b(1, x, y, x * y);
    normal += b * b.t();
    side += (p.mm - mean) * b;
  }
  if (!cv::solve(normal, side, fit, cv::DECOMP_SVD)) return;
  for (int i = 0; i < 4; ++i) plane_[i] += fit[i];
}

double ThicknessField::smooth(SheetPoint p) const {
  const double x = (p.x - middle_.x) / extent_, y = (p.y - middle_.y) / extent_;
  return plane_[0] + plane_[1] * x + plane_[2] * y + plane_[3] * x * y;
}

double ThicknessField::at(SheetPoint p) const {
  double sum = 0, weight = 1e-12;
  for (const ThicknessPoint& q : points_) {
    const double d = std::max(kNearMm, distance_mm(p, q.at)), w = 1 / (d * d);
    sum += w * (q.mm - smooth(q.at));
    weight += w;
  }
  return smooth(p) + sum / weight;
}

std::vector<ThinZone> thin_zones(const ThicknessField& field, const Ring& outline, double nominal_mm,
                                 double tolerance_mm) {
  std::vector<ThinZone> zones;
  if (field.empty() || outline.size() < 3) return zones;
  SheetPoint low{1e9, 1e9}, high{-1e9, -1e9};
  for (const SheetPoint& p : outline) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
  // Level k: thinner than nominal by k steps or more, less than k + 1.
  const cv::Size size(cvCeil((high.x - low.x) / kRasterMm), cvCeil((high.y - low.y) / kRasterMm));
  cv::Mat1i level(size, 0);
  cv::Mat1f thickness(size, 0.0F);
  int most = 0;
  const Polygon sheet{outline, {}};
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const SheetPoint p{low.x + (c + 0.5) * kRasterMm, low.y + (r + 0.5) * kRasterMm};
      const double t = field.at(p), missing = nominal_mm - t;
      thickness(r, c) = static_cast<float>(t);
      if (missing <= tolerance_mm || !contains(sheet, p)) continue;
      level(r, c) = 1 + static_cast<int>(missing / kZoneStepMm);
      most = std::max(most, level(r, c));
    }
  }
  for (int k = 1; k <= most; ++k) {
    cv::Mat mask = level == k;
    if (cv::countNonZero(mask) == 0) continue;
    double least = 0;
    cv::minMaxLoc(thickness, &least, nullptr, nullptr, nullptr, mask);
    cv::Mat labels = mask / 255 * static_cast<int>(DefectLabel::dry_spot);
    for (Polygon& polygon : polygons_of_label(labels, DefectLabel::dry_spot, kRasterMm, low))
      zones.push_back({std::move(polygon), least});
  }
  return zones;
}

}  // namespace sheetloupe
