#include <algorithm>
#include <array>

#include "sheetloupe/markers.h"

namespace sheetloupe {
namespace {

// Beside the middle and the thirds of each side, 3 mm out: half of the white that the strips leave around a marker. In
// marker units, -0.5 .. 0.5.
std::array<ImagePoint, 12> places_beside(const Marker& marker) {
  constexpr double kOut = 0.65;
  std::array<ImagePoint, 12> places;
  std::size_t next = 0;
  for (const double along : {-1.0 / 3, 0.0, 1.0 / 3}) {
    for (const auto& [u, v] : {std::pair{along, -kOut}, {along, kOut}, {-kOut, along}, {kOut, along}}) {
      const double a = u + 0.5, b = v + 0.5;
      const auto between = [&](double ImagePoint::*axis) {
        return (1 - b) * ((1 - a) * marker.corners[0].*axis + a * marker.corners[1].*axis) +
               b * ((1 - a) * marker.corners[3].*axis + a * marker.corners[2].*axis);
      };
      places[next++] = {between(&ImagePoint::x), between(&ImagePoint::y)};
    }
  }
  return places;
}

}  // namespace

std::optional<cv::Vec3d> paper_level(const cv::Mat& bgr, const std::vector<Marker>& markers) {
  std::optional<cv::Vec3d> brightest;
  for (const Marker& marker : markers) {
    std::array<std::vector<double>, 3> levels;
    for (const ImagePoint& p : places_beside(marker)) {
      const cv::Point at(cvRound(p.x), cvRound(p.y));
      if (!cv::Rect({}, bgr.size()).contains(at)) continue;
      for (int channel = 0; channel < 3; ++channel)
        levels[static_cast<std::size_t>(channel)].push_back(bgr.at<cv::Vec3b>(at)[channel]);
    }
    if (levels[0].empty()) continue;
    for (int channel = 0; channel < 3; ++channel) {
      auto& seen = levels[static_cast<std::size_t>(channel)];
      const auto middle = seen.begin() + static_cast<std::ptrdiff_t>(seen.size() / 2);
      std::nth_element(seen.begin(), middle, seen.end());
      if (!brightest) brightest = cv::Vec3d(0, 0, 0);
      (*brightest)[channel] = std::max((*brightest)[channel], *middle);
    }
  }
  return brightest;
}

}  // namespace sheetloupe
