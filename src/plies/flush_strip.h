// A printed strip that lies flush with the cut: px to mm in the plane of the cut.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "sheetloupe/markers.h"
#include "sheetloupe/units.h"

namespace sheetloupe::plies {

class FlushStrip {
 public:
  /// mm in the plane of the cut, x along the strip.
  cv::Point2d mm(ImagePoint photo) const;
  /// 95 % half width of the distance between two places of the photo, as a share of it.
  double share_u95(ImagePoint a, ImagePoint b) const;
  /// The same strip as a part of the photo shows it whose first pixel is `start`.
  FlushStrip seen_from(cv::Point start) const;
  /// The largest part of a photo that the strip leaves free.
  cv::Rect free_part(cv::Size photo) const;

 private:
  friend std::optional<FlushStrip> find_flush_strip(const std::vector<Marker>&, const Measured&, cv::Size);
  static constexpr int kFitted = 9;
  using Parameters = std::array<double, kFitted>;  // eight of the map, then how much larger each marker is printed
  cv::Point2d mm_by(const Parameters& p, ImagePoint photo) const;

  Parameters fit_{};                           // photo - middle_ from (plane mm - centre_) / kUnitMm
  cv::Matx<double, kFitted, kFitted> spread_;  // covariance of `fit_`
  cv::Point2d middle_, centre_;
  double print_ = 1.0, common_u95_ = 0.0;  // paper mm a nominal mm; share that all lengths have in common
};

/// None when no strip's marker is seen, or when the markers do not lie as printed on a plane. Of several strips the one
/// with most markers. `print`: paper mm a nominal mm.
std::optional<FlushStrip> find_flush_strip(const std::vector<Marker>& markers, const Measured& print, cv::Size photo);

}  // namespace sheetloupe::plies
