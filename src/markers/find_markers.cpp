#include <algorithm>
#include <map>
#include <opencv2/imgproc.hpp>

#include "markers/dictionary.h"
#include "markers/refine.h"
#include "sheetloupe/markers.h"

namespace sheetloupe {
namespace {

// Raw detection needs no more than this many pixels across; the refinement then works on the full picture.
constexpr int kDetectionWidth = 2200;

// A marker seen twice in one place is one marker: the detector sometimes traces its border inside and outside.
void add_unless_there(std::vector<markers::RawMarker>& copies, const markers::RawMarker& raw) {
  for (const auto& copy : copies) {
    if (cv::norm(copy.corners[0] - raw.corners[0]) < 0.3 * cv::norm(copy.corners[0] - copy.corners[1])) return;
  }
  copies.push_back(raw);
}

std::vector<markers::RawMarker> detect(const cv::Mat& grey) {
  const double shrink = std::min(1.0, static_cast<double>(kDetectionWidth) / std::max(grey.cols, grey.rows));
  cv::Mat small;
  cv::resize(grey, small, {}, shrink, shrink, cv::INTER_AREA);
  std::vector<markers::RawMarker> found = markers::detect_raw(small);
  // Pixel centres: x_full + 0.5 = (x_small + 0.5) / shrink.
  for (auto& marker : found) {
    for (auto& c : marker.corners) c = (c + cv::Point2f(0.5F, 0.5F)) / shrink - cv::Point2f(0.5F, 0.5F);
  }
  return found;
}

}  // namespace

MarkerSearch find_markers(const cv::Mat& bgr, const MarkerOptions& options) {
  if (bgr.empty() || std::min(bgr.cols, bgr.rows) < 32) return {};
  cv::Mat grey;
  cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
  std::map<int, std::vector<markers::RawMarker>> by_id;
  for (const auto& raw : detect(grey)) {
    if (raw.id >= 0 && raw.id < kStripCount * kMarkersPerStrip) add_unless_there(by_id[raw.id], raw);
  }
  MarkerSearch search;
  for (const auto& [id, copies] : by_id) {
    if (copies.size() > 1) {
      search.duplicated_ids.push_back(id);
      continue;
    }
    Marker marker;
    marker.id = id;
    for (int i = 0; i < 4; ++i) marker.corners[i] = {copies[0].corners[i].x, copies[0].corners[i].y};
    if (markers::refine(grey, marker, options)) search.markers.push_back(marker);
  }
  return search;
}

}  // namespace sheetloupe
