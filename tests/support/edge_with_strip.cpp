#include "support/edge_with_strip.h"

#include <opencv2/imgproc.hpp>

#include "sheetloupe/markers.h"
#include "sheetloupe/scene_edge.h"

namespace sheetloupe {
namespace {

// The plane's picture below the edge: card, paper, markers as the contract's section 2 has them.
void draw_strip(cv::Mat& plane, const EdgeWithStrip& scene, double top_px) {
  const double k = scene.px_per_mm * scene.print;
  const auto x = [&](double mm) { return cvRound((mm - scene.starts_mm) * k); };
  const auto y = [&](double mm) { return cvRound(top_px + mm * k); };
  cv::rectangle(plane, cv::Point(x(0), y(0)), cv::Point(x(kStripLengthMm), y(kStripWidthMm)), {236, 240, 242}, -1);
  for (int i = 0; i < kMarkersPerStrip; ++i) {
    const double left = kMarkerCentresMm[i] - kMarkerSideMm / 2, above = (kStripWidthMm - kMarkerSideMm) / 2;
    const cv::Rect place(cv::Point(x(left), y(above)), cv::Point(x(left + kMarkerSideMm), y(above + kMarkerSideMm)));
    const cv::Rect whole = place & cv::Rect(0, 0, plane.cols, plane.rows);
    if (whole.empty()) continue;
    cv::Mat marker, seen;
    cv::resize(marker_bits(5 + i), marker, place.size(), 0, 0, cv::INTER_NEAREST);
    cv::cvtColor(marker(whole - place.tl()), seen, cv::COLOR_GRAY2BGR);
    seen = seen * 0.8 + cv::Scalar(30, 30, 30);
    seen.copyTo(plane(whole));
  }
}

}  // namespace

EdgeWithStripPhoto draw_edge_with_strip(const EdgeWithStrip& scene) {
  EdgeScene edge;
  edge.size = {2000, 600};
  edge.plies = scene.plies;
  edge.ply_px = scene.ply_px;
  edge.pitch_px = 5 * scene.ply_px;
  edge.blur_px = 0.3;
  const EdgePhoto drawn = render_edge_photo(edge);
  double lowest = 0;
  for (const ImagePoint& p : drawn.interfaces.back()) lowest = std::max(lowest, p.y);
  const double strip_top = lowest + scene.gap_mm * scene.px_per_mm;
  cv::Mat plane(cvRound(strip_top + (kStripWidthMm + 4) * scene.px_per_mm), 2000, CV_8UC3);
  for (int r = 0; r < plane.rows; ++r) drawn.bgr.row(std::min(r, drawn.bgr.rows - 1)).copyTo(plane.row(r));
  draw_strip(plane, scene, strip_top);
  // The camera: sides of the plane's picture that lie nearer are seen larger.
  const auto w = static_cast<float>(plane.cols), h = static_cast<float>(plane.rows);
  const cv::Matx33d seen(1, 0, 0, 0, 1, 0, -scene.tilt_x / w, -scene.tilt_y / h, 1);
  cv::Mat photo;
  cv::warpPerspective(plane, photo, seen, {cvRound(w * (1 + scene.tilt_x)), cvRound(h * (1 + scene.tilt_y))},
                      cv::INTER_CUBIC, cv::BORDER_REPLICATE);
  cv::GaussianBlur(photo, photo, {}, 0.8);
  cv::RNG rng(7);
  cv::Mat noise(photo.size(), CV_16SC3);
  rng.fill(noise, cv::RNG::NORMAL, 0, 2.0);
  cv::add(photo, noise, photo, {}, CV_8UC3);
  return {photo, drawn.band_px / scene.px_per_mm};
}

}  // namespace sheetloupe
