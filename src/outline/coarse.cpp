#include "outline/coarse.h"

#include <algorithm>
#include <map>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::outline {
namespace {

constexpr int kWorkSize = 420;  // longer side of the working picture; a pixel is then about a millimetre

// What tells cloth from table: how bright, how rough at the scale of tows, and how coloured. Brightness and roughness
// on a logarithmic scale, so that a shadow shifts one and leaves the other.
cv::Mat features(const cv::Mat& bgr, double shrink) {
  cv::Mat grey, log_grey, mean, square, mean_square;
  cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
  grey.convertTo(log_grey, CV_32F, 1.0, 8.0);
  cv::log(log_grey, log_grey);
  cv::GaussianBlur(log_grey, mean, {}, 2.0 / shrink);
  cv::Mat detail = log_grey - mean;
  cv::multiply(detail, detail, square);
  cv::Mat small_square, small_mean, small_bgr, lab;
  cv::resize(square, small_square, {}, shrink, shrink, cv::INTER_AREA);
  cv::resize(mean, small_mean, {}, shrink, shrink, cv::INTER_AREA);
  cv::resize(bgr, small_bgr, {}, shrink, shrink, cv::INTER_AREA);
  cv::cvtColor(small_bgr, lab, cv::COLOR_BGR2Lab);
  cv::GaussianBlur(small_square, small_square, {}, 2.0);
  cv::GaussianBlur(lab, lab, {}, 1.0);
  cv::Mat rough;
  cv::sqrt(small_square, rough);
  std::vector<cv::Mat> lab_planes, planes(3);
  cv::split(lab, lab_planes);
  small_mean.convertTo(planes[0], CV_8U, 255.0 / std::log(263.0 / 8.0), -255.0 * std::log(8.0) / std::log(263.0 / 8.0));
  rough.convertTo(planes[1], CV_8U, 255.0 / 0.5);
  planes[2] = lab_planes[2];
  cv::Mat stacked;
  cv::merge(planes, stacked);
  return stacked;
}

std::vector<cv::Point> scaled(const std::array<cv::Point2d, 4>& quad, double k) {
  std::vector<cv::Point> polygon;
  for (const auto& p : quad) polygon.emplace_back(cvRound(p.x * k), cvRound(p.y * k));
  return polygon;
}

// Seeds: the picture's border and the strips are table; the middle of the strips (or of the picture) is sheet.
cv::Mat seeds(const cv::Size& size, const std::vector<std::array<cv::Point2d, 4>>& quads, double shrink) {
  cv::Mat mask(size, CV_8UC1, cv::Scalar(cv::GC_PR_BGD));
  const int border = std::max(2, size.width / 60);
  cv::Mat inner = mask(cv::Rect(border, border, size.width - 2 * border, size.height - 2 * border));
  std::vector<cv::Point> middles;
  for (const auto& quad : quads) {
    const cv::Point2d m = (quad[0] + quad[1] + quad[2] + quad[3]) * 0.25 * shrink;
    middles.emplace_back(cvRound(m.x), cvRound(m.y));
    for (const auto& p : quad) middles.emplace_back(cvRound(p.x * shrink), cvRound(p.y * shrink));
  }
  if (quads.size() >= 2) {
    std::vector<cv::Point> hull;
    cv::convexHull(middles, hull);
    cv::fillConvexPoly(mask, hull, cv::Scalar(cv::GC_PR_FGD));
  } else {
    inner(cv::Rect(inner.cols / 6, inner.rows / 6, inner.cols * 2 / 3, inner.rows * 2 / 3)) = cv::GC_PR_FGD;
  }
  cv::Mat frame(size, CV_8UC1, cv::Scalar(255));
  frame(cv::Rect(border, border, size.width - 2 * border, size.height - 2 * border)) = 0;
  mask.setTo(cv::GC_BGD, frame);
  for (const auto& quad : quads) cv::fillConvexPoly(mask, scaled(quad, shrink), cv::Scalar(cv::GC_BGD));
  return mask;
}

// The largest connected part, holes filled, thin bridges and spurs opened away.
std::vector<cv::Point> largest_part(cv::Mat mask) {
  const cv::Mat disc = cv::getStructuringElement(cv::MORPH_ELLIPSE, {9, 9});
  cv::morphologyEx(mask, mask, cv::MORPH_CLOSE, disc);
  cv::morphologyEx(mask, mask, cv::MORPH_OPEN, disc);
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(mask, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  if (contours.empty()) return {};
  return *std::max_element(contours.begin(), contours.end(),
                           [](const auto& a, const auto& b) { return cv::contourArea(a) < cv::contourArea(b); });
}

// Four corners of the hull by coarsening it until four are left.
std::optional<std::array<cv::Point2d, 4>> quad_of(const std::vector<cv::Point>& contour) {
  std::vector<cv::Point> hull, quad;
  cv::convexHull(contour, hull);
  const double length = cv::arcLength(hull, true);
  for (double share = 0.01; share < 0.12; share += 0.005) {
    cv::approxPolyDP(hull, quad, share * length, true);
    if (quad.size() <= 4) break;
  }
  if (quad.size() != 4) return {};
  std::array<cv::Point2d, 4> corners;
  for (int i = 0; i < 4; ++i) corners[i] = quad[i];
  // Clockwise as seen with y down is a positive signed area.
  const double twice = (corners[2] - corners[0]).cross(corners[3] - corners[1]);
  if (twice < 0) std::swap(corners[1], corners[3]);
  return corners;
}

}  // namespace

std::vector<std::array<cv::Point2d, 4>> strip_quads(const std::vector<Marker>& markers) {
  std::map<int, std::pair<std::vector<cv::Point2d>, std::vector<cv::Point2d>>> by_strip;
  constexpr std::array<double, 4> kSx = {-1, 1, 1, -1}, kSy = {-1, -1, 1, 1};
  for (const Marker& marker : markers) {
    auto& [design, seen] = by_strip[marker.id / kMarkersPerStrip];
    for (int i = 0; i < 4; ++i) {
      design.emplace_back(kMarkerCentresMm[marker.id % kMarkersPerStrip] + kMarkerSideMm / 2 * kSx[i],
                          kStripWidthMm / 2 + kMarkerSideMm / 2 * kSy[i]);
      seen.emplace_back(marker.corners[i].x, marker.corners[i].y);
    }
  }
  std::vector<std::array<cv::Point2d, 4>> quads;
  for (const auto& [strip, pairs] : by_strip) {
    if (pairs.first.size() < 8) continue;
    const cv::Mat h = cv::findHomography(pairs.first, pairs.second);
    if (h.empty()) continue;
    std::vector<cv::Point2d> corners = {{-1, -1},
                                        {kStripLengthMm + 1, -1},
                                        {kStripLengthMm + 1, kStripWidthMm + 1},
                                        {-1, kStripWidthMm + 1}},
                             out;
    cv::perspectiveTransform(corners, out, h);
    quads.push_back({out[0], out[1], out[2], out[3]});
  }
  return quads;
}

Coarse find_coarse(const cv::Mat& bgr, const std::vector<Marker>& markers) {
  Coarse coarse;
  const double shrink = static_cast<double>(kWorkSize) / std::max(bgr.cols, bgr.rows);
  if (shrink > 1.0 || std::min(bgr.cols, bgr.rows) * shrink < 60) {
    coarse.reason = "The photo is too small to find the sheet's sides in it. Use the phone's full resolution.";
    return coarse;
  }
  // Twice the working size is enough to see tows as roughness.
  cv::Mat half;
  const double to_half = std::min(1.0, 4.0 * shrink);
  cv::resize(bgr, half, {}, to_half, to_half, cv::INTER_AREA);
  const cv::Mat picture = features(half, shrink / to_half);
  const double k = static_cast<double>(picture.cols) / bgr.cols;
  cv::Mat mask = seeds(picture.size(), strip_quads(markers), k);
  if (cv::countNonZero((mask == cv::GC_PR_FGD)) < 100) {
    coarse.reason = "There is no room for a sheet between the strips. Lay the strips around the sheet.";
    return coarse;
  }
  cv::setRNGSeed(1);  // the mixture models start from k-means, which draws from this thread's generator
  cv::Mat background, foreground;
  cv::grabCut(picture, mask, {}, background, foreground, 5, cv::GC_INIT_WITH_MASK);
  const std::vector<cv::Point> part = largest_part((mask & 1) * 255);
  // A sheet worth measuring fills more than a fiftieth of the picture.
  if (part.empty() || cv::contourArea(part) < 0.02 * picture.total()) {
    coarse.reason =
        "No sheet was found in the picture. Photograph it whole, from above, on a table that differs from it.";
    return coarse;
  }
  const auto quad = quad_of(part);
  const double filled =
      quad ? cv::contourArea(part) / cv::contourArea(std::vector<cv::Point2f>(quad->begin(), quad->end())) : 0.0;
  if (!quad || filled < 0.85) {
    coarse.reason =
        "What looks like the sheet does not have four straight sides. Photograph the whole sheet with nothing on its "
        "border.";
    return coarse;
  }
  coarse.corners = quad;
  for (cv::Point2d& c : *coarse.corners) c = (c + cv::Point2d(0.5, 0.5)) / k - cv::Point2d(0.5, 0.5);
  return coarse;
}

}  // namespace sheetloupe::outline
