#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/weave.h"

namespace sheetloupe {
namespace {

// How far each place is from what it should be: the largest of warp deviation, weft deviation and shear, with its name.
struct Excess {
  cv::Mat1f worst;  // absolute degrees, 0 where not measured
  cv::Mat1b which;  // 0 warp, 1 weft, 2 shear
  cv::Mat1f signed_worst;
};

Excess excess_of(const WeaveAnalysis& w) {
  const cv::Mat1f warp = w.warp_deg, weft = w.weft_deg;
  Excess e{cv::Mat1f(warp.size(), 0.F), cv::Mat1b(warp.size(), static_cast<unsigned char>(0)),
           cv::Mat1f(warp.size(), 0.F)};
  for (int r = 0; r < warp.rows; ++r) {
    for (int c = 0; c < warp.cols; ++c) {
      if (std::isnan(warp(r, c))) continue;
      const std::array<double, 3> turn = {wrap_turn_degrees(warp(r, c) - w.warp.degrees()),
                                          wrap_turn_degrees(weft(r, c) - w.weft.degrees()),
                                          wrap_turn_degrees(weft(r, c) - warp(r, c) - 90.0)};
      for (int k = 0; k < 3; ++k) {
        if (std::abs(turn[k]) <= e.worst(r, c)) continue;
        e.worst(r, c) = static_cast<float>(std::abs(turn[k]));
        e.signed_worst(r, c) = static_cast<float>(turn[k]);
        e.which(r, c) = static_cast<unsigned char>(k);
      }
    }
  }
  return e;
}

}  // namespace

std::vector<WeaveZone> find_weave_zones(const WeaveAnalysis& w, double limit_deg) {
  if (!w.found) return {};
  const Excess e = excess_of(w);
  cv::Mat mask = e.worst > limit_deg;
  // A zone smaller than a few tows is below what the method resolves.
  cv::morphologyEx(mask, mask, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  cv::Mat labels, stats, middles;
  const int count = cv::connectedComponentsWithStats(mask, labels, stats, middles);
  std::vector<WeaveZone> zones;
  constexpr std::array<const char*, 3> kNames = {"warp", "weft", "shear"};
  for (int i = 1; i < count; ++i) {
    const cv::Mat part = labels == i;
    cv::Point at;
    double worst = 0;
    cv::minMaxLoc(e.worst, nullptr, &worst, nullptr, &at, part);
    cv::Mat grown;
    cv::copyMakeBorder(part, grown, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::dilate(grown, grown, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
    std::vector<std::vector<cv::Point>> contours;
    cv::findContours(grown, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
    WeaveZone zone;
    for (const cv::Point& p : contours[0]) {
      zone.polygon.outer.push_back(
          {w.map_origin.x + (p.x - 0.5) * w.map_mm_per_px, w.map_origin.y + (p.y - 0.5) * w.map_mm_per_px});
    }
    zone.worst_deg = e.signed_worst(at);
    zone.worst_at = {w.map_origin.x + (at.x + 0.5) * w.map_mm_per_px, w.map_origin.y + (at.y + 0.5) * w.map_mm_per_px};
    zone.what = kNames[e.which(at)];
    if (zone.polygon.outer.size() >= 3) zones.push_back(std::move(zone));
  }
  std::sort(zones.begin(), zones.end(),
            [](const WeaveZone& a, const WeaveZone& b) { return area_mm2(a.polygon) > area_mm2(b.polygon); });
  return zones;
}

}  // namespace sheetloupe
