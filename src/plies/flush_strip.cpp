#include "plies/flush_strip.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::plies {
namespace {

constexpr double kUnitMm = 50.0;  // of the plane's coordinates in the fit, so that all parameters are of like size
// A corner's own scatter, px: of printed sides 0.02 to 0.1 px in good photos, more in shaken ones.
constexpr double kCornerPx = 0.15;
// Blur, sharpening and ink move all sides of a marker in or out alike: 0.5 to 0.7 px were seen in drawn phone photos
// from one side to the other, and ink spreads by some hundredths of a millimetre (common practice, no source).
constexpr double kInsetPx = 0.4, kInkMm = 0.03;
// A strip pushed against a flat block beside the sheet is flush within about half a millimetre (common practice, no
// source); 60 drawn views with 3 mm showed an error of 2.6 %, and 0.7 % without.
constexpr double kFlushU95Mm = 0.5;
// Focal length of a phone's main camera as a share of the picture's long side: 26 mm on 36 mm film. A cropped picture
// looks nearer than it was taken, which only widens the figure.
constexpr double kFocalShare = 26.0 / 36.0;
// Markers that are off by more than this share of their side do not lie flat.
constexpr double kFlatShare = 0.01;

struct Place {
  cv::Point2d plane, growth, photo;  // growth: how the place moves in the plane when the marker is printed larger
};

std::vector<Place> places_of(const std::vector<Marker>& markers) {
  constexpr double kHalf = kMarkerSideMm / 2;
  constexpr std::array<std::array<double, 2>, 4> kSigns = {{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}}};
  std::vector<Place> places;
  for (const Marker& m : markers) {
    const cv::Point2d centre(kMarkerCentresMm[m.id % kMarkersPerStrip], kStripWidthMm / 2);
    for (std::size_t i = 0; i < 4; ++i) {
      const cv::Point2d sign(kSigns[i][0], kSigns[i][1]);
      places.push_back({(centre + kHalf * sign) / kUnitMm, sign / kUnitMm, {m.corners[i].x, m.corners[i].y}});
    }
  }
  return places;
}

cv::Matx33d map_of(const std::array<double, 9>& p) { return {p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], 1}; }

cv::Point2d mapped(const cv::Matx33d& h, cv::Point2d p) {
  const cv::Vec3d q = h * cv::Vec3d(p.x, p.y, 1);
  return {q[0] / q[2], q[1] / q[2]};
}

std::vector<Marker> fullest_strip(const std::vector<Marker>& markers) {
  std::array<std::vector<Marker>, kStripCount> strips;
  for (const Marker& m : markers) {
    if (m.id >= 0 && m.id < kStripCount * kMarkersPerStrip) strips[m.id / kMarkersPerStrip].push_back(m);
  }
  return *std::max_element(strips.begin(), strips.end(),
                           [](const auto& a, const auto& b) { return a.size() < b.size(); });
}

double mean_side_px(const std::vector<Marker>& markers) {
  double sum = 0;
  for (const Marker& m : markers) {
    for (std::size_t i = 0; i < 4; ++i)
      sum += std::hypot(m.corners[i].x - m.corners[(i + 1) % 4].x, m.corners[i].y - m.corners[(i + 1) % 4].y);
  }
  return sum / (4.0 * static_cast<double>(markers.size()));
}

// Projective map with the markers' common growth: Gauss and Newton's steps; the growth is held by what is known of it.
struct Fit {
  std::array<double, 9> value{};
  cv::Matx<double, 9, 9> normal;
  double rms_px = 0.0;
};

Fit fit_map(const std::vector<Place>& places, const cv::Matx33d& start, double growth_mm) {
  Fit fit;
  for (int i = 0; i < 8; ++i) fit.value[i] = start.val[i] / start.val[8];
  for (int pass = 0; pass < 12; ++pass) {
    fit.normal = cv::Matx<double, 9, 9>::zeros();
    cv::Vec<double, 9> right = cv::Vec<double, 9>::all(0);
    const cv::Matx33d h = map_of(fit.value);
    double square = 0;
    for (const Place& place : places) {
      const cv::Point2d p = place.plane + fit.value[8] * place.growth, seen = mapped(h, p), off = place.photo - seen;
      const double w = h(2, 0) * p.x + h(2, 1) * p.y + 1;
      const auto along = [&](double a, double b, double c, double at) {
        return (a * place.growth.x + b * place.growth.y - at * (h(2, 0) * place.growth.x + c * place.growth.y)) / w;
      };
      const cv::Vec<double, 9> dx(p.x / w, p.y / w, 1 / w, 0, 0, 0, -seen.x * p.x / w, -seen.x * p.y / w,
                                  along(h(0, 0), h(0, 1), h(2, 1), seen.x));
      const cv::Vec<double, 9> dy(0, 0, 0, p.x / w, p.y / w, 1 / w, -seen.y * p.x / w, -seen.y * p.y / w,
                                  along(h(1, 0), h(1, 1), h(2, 1), seen.y));
      fit.normal += dx * dx.t() + dy * dy.t();
      right += dx * off.x + dy * off.y;
      square += off.dot(off);
    }
    fit.rms_px = std::sqrt(square / (2.0 * static_cast<double>(places.size())));
    const double hold = std::pow(kCornerPx / growth_mm, 2);
    fit.normal(8, 8) += hold;
    right[8] -= hold * fit.value[8];
    cv::Vec<double, 9> step;
    if (!cv::solve(fit.normal, right, step, cv::DECOMP_SVD)) break;
    for (int i = 0; i < 9; ++i) fit.value[i] += step[i];
  }
  return fit;
}

}  // namespace

cv::Point2d FlushStrip::mm_by(const Parameters& p, ImagePoint photo) const {
  const cv::Point2d unit = mapped(map_of(p).inv(), {photo.x - middle_.x, photo.y - middle_.y});
  return print_ * (kUnitMm * unit + centre_);
}

cv::Point2d FlushStrip::mm(ImagePoint photo) const { return mm_by(fit_, photo); }

double FlushStrip::share_u95(ImagePoint a, ImagePoint b) const {
  const auto length = [&](const Parameters& p) { return cv::norm(mm_by(p, a) - mm_by(p, b)); };
  const double here = length(fit_);
  cv::Vec<double, kFitted> gradient;
  for (int i = 0; i < kFitted; ++i) {
    const double step = 0.01 * std::sqrt(spread_(i, i)) + 1e-12;
    Parameters up = fit_, down = fit_;
    up[i] += step;
    down[i] -= step;
    gradient[i] = (length(up) - length(down)) / (2 * step);
  }
  const double variance = gradient.dot(spread_ * gradient);
  return std::hypot(common_u95_, 1.96 * std::sqrt(std::max(0.0, variance)) / here);
}

FlushStrip FlushStrip::seen_from(cv::Point start) const {
  FlushStrip moved = *this;
  moved.middle_ -= cv::Point2d(start);
  return moved;
}

cv::Rect FlushStrip::free_part(cv::Size photo) const {
  // The paper with a millimetre to spare, because it is cut by hand.
  constexpr double kSpareMm = 1.0;
  cv::Point2d low(1e9, 1e9), high(-1e9, -1e9);
  const cv::Matx33d h = map_of(fit_);
  // Its ends may lie far outside the photo, where the map's horizon is near: only the visible length counts.
  for (int i = 0; i <= 50; ++i) {
    for (const double across : {-kSpareMm, kStripWidthMm + kSpareMm}) {
      const double along = -kSpareMm + (kStripLengthMm + 2 * kSpareMm) * i / 50;
      const cv::Point2d p = (cv::Point2d(along, across) - centre_) / kUnitMm;
      if (h(2, 0) * p.x + h(2, 1) * p.y + 1 < 0.2) continue;
      const cv::Point2d at = mapped(h, p) + middle_;
      if (at.x < -0.2 * photo.width || at.x > 1.2 * photo.width) continue;
      low = {std::min(low.x, at.x), std::min(low.y, at.y)};
      high = {std::max(high.x, at.x), std::max(high.y, at.y)};
    }
  }
  const int left = std::clamp(cvFloor(low.x), 0, photo.width), right = std::clamp(cvCeil(high.x), 0, photo.width);
  const int top = std::clamp(cvFloor(low.y), 0, photo.height), bottom = std::clamp(cvCeil(high.y), 0, photo.height);
  const std::array<cv::Rect, 4> parts = {
      cv::Rect(0, 0, photo.width, top), cv::Rect(0, bottom, photo.width, photo.height - bottom),
      cv::Rect(0, 0, left, photo.height), cv::Rect(right, 0, photo.width - right, photo.height)};
  return *std::max_element(parts.begin(), parts.end(),
                           [](const cv::Rect& a, const cv::Rect& b) { return a.area() < b.area(); });
}

std::optional<FlushStrip> find_flush_strip(const std::vector<Marker>& markers, const Measured& print, cv::Size photo) {
  const std::vector<Marker> seen = fullest_strip(markers);
  if (seen.empty()) return {};
  FlushStrip strip;
  std::vector<Place> places = places_of(seen);
  for (const Place& p : places) {
    strip.middle_ += p.photo / static_cast<double>(places.size());
    strip.centre_ += kUnitMm * p.plane / static_cast<double>(places.size());
  }
  for (Place& p : places) {
    p.photo -= strip.middle_;
    p.plane -= strip.centre_ / kUnitMm;
  }
  // The first marker alone starts the fit.
  std::array<cv::Point2f, 4> plane, picture;
  for (std::size_t i = 0; i < 4; ++i) {
    plane[i] = places[i].plane;
    picture[i] = places[i].photo;
  }
  const double side_px = mean_side_px(seen), px_per_mm = side_px / kMarkerSideMm;
  const cv::Mat start = cv::getPerspectiveTransform(plane, picture);
  const Fit fit = fit_map(places, cv::Matx33d(start), std::hypot(kInkMm, 0.5 * kInsetPx / px_per_mm));
  if (fit.rms_px > std::max(0.5, kFlatShare * side_px)) return {};
  strip.fit_ = fit.value;
  const double corner_px = std::max(kCornerPx, fit.rms_px);
  strip.spread_ = corner_px * corner_px * fit.normal.inv(cv::DECOMP_SVD);
  strip.print_ = print.value;
  const double distance_mm = kFocalShare * std::max(photo.width, photo.height) / px_per_mm;
  strip.common_u95_ = std::hypot(print.u95 / print.value, kFlushU95Mm / distance_mm);
  return strip;
}

}  // namespace sheetloupe::plies
