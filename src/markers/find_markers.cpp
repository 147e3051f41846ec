#include <algorithm>
#include <map>
#include <opencv2/imgproc.hpp>

#include "markers/dictionary.h"
#include "markers/refine.h"
#include "sheetloupe/markers.h"
#include "sheetloupe/photo.h"

namespace sheetloupe {
namespace {

// Raw detection looks at few pixels first and at more where markers are missing; the refinement then works on the full
// picture. Four strips round a sheet leave a marker some 40 px wide at the first width, six a cell: on 29 of 31
// rendered photos the first look found all twenty, on the other two no look did.
constexpr int kFirstWidth = 1000, kDetectionWidth = 2200;
// A marker is then some 60 px wide.
constexpr int kCloseUpWidth = 640;
// Below this side (px of the full picture) the reduced picture leaves too few pixels a cell (6 cells a side).
constexpr double kSmallSidePx = 40.0;

constexpr std::size_t kAllMarkers = std::size_t{kStripCount} * kMarkersPerStrip;

// Two pixels a cell: below that nothing is read in a reduced picture, and tows and wood grain draw thousands of such
// shapes.
constexpr double kLeastReducedSidePx = 12.0;
// A share of the picture's longer side, 15 px of 4000: smaller ones carry no scale.
constexpr double kLeastShare = 0.00375;

using Found = std::map<int, std::vector<markers::RawMarker>>;

// A marker seen twice in one place is one marker: the detector sometimes traces its border inside and outside.
void add_unless_there(Found& found, const markers::RawMarker& raw) {
  if (raw.id < 0 || raw.id >= kStripCount * kMarkersPerStrip) return;
  auto& copies = found[raw.id];
  for (const auto& copy : copies) {
    if (cv::norm(copy.corners[0] - raw.corners[0]) < 0.3 * cv::norm(copy.corners[0] - copy.corners[1])) return;
  }
  copies.push_back(raw);
}

void detect(const cv::Mat& picture, int shrink, double least_side_px, Found& found) {
  for (markers::RawMarker marker : markers::detect_raw(picture, least_side_px)) {
    // Pixel centres: x_full + 0.5 = (x_small + 0.5) * shrink.
    for (auto& c : marker.corners) c = (c + cv::Point2f(0.5F, 0.5F)) * shrink - cv::Point2f(0.5F, 0.5F);
    add_unless_there(found, marker);
  }
}

// Brightness over that of the paper beside it: a shadow's edge across a marker disappears. The paper is the brightest
// within about a marker's side.
cv::Mat flattened(const cv::Mat& grey) {
  const int reach = std::max(15, std::max(grey.cols, grey.rows) / 24) | 1;
  const cv::Mat around = cv::getStructuringElement(cv::MORPH_RECT, {reach, reach});
  cv::Mat paper, flat;
  cv::morphologyEx(grey, paper, cv::MORPH_CLOSE, around);
  cv::blur(paper, paper, {7, 7});
  cv::divide(grey, paper, flat, 200.0);
  return flat;
}

double smallest_side(const Found& found) {
  double side = 1e9;
  for (const auto& [id, copies] : found) {
    for (const auto& m : copies) {
      for (int i = 0; i < 4; ++i) side = std::min(side, cv::norm(m.corners[i] - m.corners[(i + 1) % 4]));
    }
  }
  return found.empty() ? 0.0 : side;
}

int longer_side(const cv::Mat& picture) { return std::max(picture.cols, picture.rows); }

// The whole factor that brings the longer side nearest to `width`.
int shrink_to(int width, const cv::Mat& picture) { return std::max(1, cvRound(1.0 * longer_side(picture) / width)); }

double least_side(const cv::Mat& picture) { return kLeastShare * longer_side(picture); }

Found first_look(const cv::Mat& grey) {
  Found found;
  const int shrink = shrink_to(kFirstWidth, grey);
  if (shrink > 1) detect(shrunk(grey, shrink), shrink, kLeastReducedSidePx, found);
  return found;
}

Found look_at_close_up(const cv::Mat& grey) {
  Found found;
  const int shrink = shrink_to(kCloseUpWidth, grey);
  detect(shrunk(grey, shrink), shrink, kLeastReducedSidePx, found);
  return found;
}

// A plain look, one with shadows levelled where markers are missing, and one at full size when those seen are small.
Found closer_look(const cv::Mat& grey) {
  Found found;
  const int shrink = shrink_to(kDetectionWidth, grey);
  const cv::Mat small = shrunk(grey, shrink);
  detect(small, shrink, least_side(small), found);
  if (found.size() == kAllMarkers) return found;
  detect(flattened(small), shrink, least_side(small), found);
  if (shrink > 1 && found.size() < kAllMarkers && smallest_side(found) < kSmallSidePx) {
    detect(grey, 1, least_side(grey), found);
  }
  return found;
}

std::vector<Marker> refined(const cv::Mat& grey, int id, const std::vector<markers::RawMarker>& copies,
                            const MarkerOptions& options) {
  std::vector<Marker> good;
  for (const auto& raw : copies) {
    Marker marker;
    marker.id = id;
    for (int i = 0; i < 4; ++i) marker.corners[i] = {raw.corners[i].x, raw.corners[i].y};
    if (markers::refine(grey, marker, options)) good.push_back(marker);
  }
  return good;
}

MarkerSearch search_of(const cv::Mat& grey, const Found& found, const MarkerOptions& options) {
  MarkerSearch search;
  for (const auto& [id, copies] : found) {
    // Wood grain and cloth now and then read as a marker; only a printed one has four straight sides on white paper.
    const std::vector<Marker> good = refined(grey, id, copies, options);
    if (good.size() == 1) search.markers.push_back(good[0]);
    if (good.size() > 1) search.duplicated_ids.push_back(id);
  }
  return search;
}

}  // namespace

MarkerSearch find_markers(const cv::Mat& bgr, const MarkerOptions& options) {
  if (bgr.empty() || std::min(bgr.cols, bgr.rows) < 32) return {};
  cv::Mat grey;
  cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
  if (options.close_up) return search_of(grey, look_at_close_up(grey), options);
  MarkerSearch search = search_of(grey, first_look(grey), options);
  if (search.markers.size() < kAllMarkers) search = search_of(grey, closer_look(grey), options);
  return search;
}

}  // namespace sheetloupe
