#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "outline/coarse.h"
#include "outline/side.h"
#include "sheetloupe/outline.h"

namespace sheetloupe {
namespace {

using outline::Plane;
using outline::SideEdge;

std::optional<cv::Point2d> meet(const SideEdge& a, const SideEdge& b) {
  const double cross = a.along.cross(b.along);
  if (std::abs(cross) < 0.3) return {};  // sides of one sheet never run within 17 degrees of each other
  return a.at + a.along * ((b.at - a.at).cross(b.along) / cross);
}

// Sides found once move the corners; a second look from there sees bands that are aligned and centred.
struct Sides {
  std::array<SideEdge, 4> edge;
  std::array<cv::Point2d, 4> corner;  // corner i lies between side i-1 and side i, plane units
};

std::optional<Sides> refine(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane,
                            std::array<cv::Point2d, 4> corner, Mm thickness,
                            const std::optional<std::array<bool, 4>>& resin) {
  Sides sides;
  for (int round = 0; round < 2; ++round) {
    for (int i = 0; i < 4; ++i) {
      sides.edge[i] = outline::find_side(bgr, strips, plane, corner[i], corner[(i + 1) % 4], thickness,
                                         resin ? std::optional((*resin)[i]) : std::nullopt);
      if (!sides.edge[i].found) return {};
    }
    for (int i = 0; i < 4; ++i) {
      const auto at = meet(sides.edge[(i + 3) % 4], sides.edge[i]);
      if (!at) return {};
      sides.corner[i] = *at;
    }
    corner = sides.corner;
  }
  return sides;
}

// Where printed paper lies, a little widened for its own edge.
cv::Mat paper_mask(const cv::Size& size, const std::vector<Marker>& markers) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8UC1);
  for (const auto& quad : outline::strip_quads(markers)) {
    std::vector<cv::Point> polygon;
    for (const cv::Point2d& p : quad) polygon.emplace_back(cvRound(p.x), cvRound(p.y));
    cv::fillConvexPoly(mask, polygon, cv::Scalar(255));
    cv::polylines(mask, polygon, true, cv::Scalar(255), std::max(3, size.width / 400));
  }
  return mask;
}

// The datum corner by the contract's rule: the direction from the first corner to the second is the one turned least
// from the photo's +x. With a datum strip: the side nearest to that strip is the top side.
int first_corner(const std::array<ImagePoint, 4>& corners, const std::vector<Marker>& markers,
                 std::optional<int> datum_strip) {
  ImagePoint strip{};
  int seen = 0;
  for (const Marker& marker : markers) {
    if (!datum_strip || marker.id / kMarkersPerStrip != *datum_strip) continue;
    for (const ImagePoint& p : marker.corners) strip = {strip.x + p.x, strip.y + p.y}, ++seen;
  }
  int best = 0;
  double best_cost = 1e12;
  for (int i = 0; i < 4; ++i) {
    const ImagePoint a = corners[i], b = corners[(i + 1) % 4];
    double cost = std::abs(std::atan2(b.y - a.y, b.x - a.x));
    if (seen > 0) cost = std::hypot((a.x + b.x) / 2 - strip.x / seen, (a.y + b.y) / 2 - strip.y / seen);
    if (cost < best_cost) best_cost = cost, best = i;
  }
  return best;
}

ImagePoint image_point(const Plane& plane, cv::Point2d p) {
  const cv::Point2d q = plane.image_from_plane(p);
  return {q.x, q.y};
}

// Clockwise from the datum corner: the corner, then that side's edge points.
std::vector<ImagePoint> polygon(const Plane& plane, const Sides& sides, int first) {
  std::vector<ImagePoint> points;
  for (int k = 0; k < 4; ++k) {
    const int i = (first + k) % 4;
    points.push_back(image_point(plane, sides.corner[i]));
    const SideEdge& edge = sides.edge[i];
    for (std::size_t j = 0; j < edge.points.size(); j += 4) {
      // A stray point of the path is brought onto the line.
      const cv::Point2d d = edge.points[j] - edge.at;
      const double along = d.dot(edge.along), off = edge.along.cross(d);
      const double allowed = edge.rough ? 6.0 * edge.scatter : 2.0 * edge.scatter;
      const cv::Point2d normal{-edge.along.y, edge.along.x};
      points.push_back(image_point(plane, edge.at + edge.along * along + normal * std::clamp(off, -allowed, allowed)));
    }
  }
  return points;
}

// The cloth: the outline where the weave reaches it, else the line where the weave ends.
std::vector<ImagePoint> cloth_polygon(const Plane& plane, const Sides& sides, int first) {
  std::array<SideEdge, 4> inner = sides.edge;
  for (SideEdge& edge : inner) {
    if (edge.cloth.empty()) continue;
    cv::Point2d outward{edge.along.y, -edge.along.x};
    const cv::Point2d walk = edge.points.back() - edge.points.front();
    if (walk.dot(edge.along) < 0) outward = -outward;
    std::vector<double> gap;
    for (const cv::Point2d& p : edge.cloth) gap.push_back((edge.at - p).dot(outward));
    // Of a ragged end, the place that three quarters of its tows reach, and a little for the resin on their tips.
    const double share = edge.rough ? 0.75 : 0.5;
    const auto at = gap.begin() + static_cast<std::ptrdiff_t>(static_cast<double>(gap.size() - 1) * share);
    std::nth_element(gap.begin(), at, gap.end());
    const double inset = *at + (edge.rough ? 0.3 : 0.0);
    // Below half a unit the weave's end and the side cannot be told apart.
    if (inset > 0.5) edge.at -= outward * inset;
  }
  std::vector<ImagePoint> points;
  for (int k = 0; k < 4; ++k) {
    const int i = (first + k) % 4;
    const auto corner = meet(inner[(i + 3) % 4], inner[i]);
    const auto next = meet(inner[i], inner[(i + 1) % 4]);
    if (!corner || !next) return polygon(plane, sides, first);
    for (int j = 0; j < 12; ++j) points.push_back(image_point(plane, *corner + (*next - *corner) * (j / 12.0)));
  }
  return points;
}

double px_per_unit(const Plane& plane, cv::Point2d at) {
  return cv::norm(plane.image_from_plane(at + cv::Point2d(0.5, 0)) - plane.image_from_plane(at - cv::Point2d(0.5, 0)));
}

// Of the worst corner, each axis: the two sides that meet there, and what no scatter shows: a wall or a shadow that
// takes part in a blurred edge moves a whole side. On rendered trimmed sheets corners are off by 0.7 px rms an axis
// when the sides scatter hardly at all.
double corner_u95_px(const Plane& plane, const Sides& sides) {
  constexpr double kCommonSdPx = 0.7;
  double worst = 0.0;
  for (int i = 0; i < 4; ++i) {
    const cv::Point2d c = sides.corner[i];
    const double own = std::max(sides.edge[i].end_sd, sides.edge[(i + 3) % 4].end_sd) * px_per_unit(plane, c);
    worst = std::max(worst, std::hypot(own, kCommonSdPx));
  }
  return 1.96 * worst;
}

// From four corners in the photo near the true ones, clockwise.
Outline outline_near(const cv::Mat& bgr, const std::vector<Marker>& markers, const Plane& plane,
                     const std::array<cv::Point2d, 4>& near, Mm thickness, std::optional<int> datum_strip,
                     const std::optional<std::array<bool, 4>>& resin = {}) {
  Outline result;
  std::array<cv::Point2d, 4> start;
  for (int i = 0; i < 4; ++i) start[i] = plane.plane_from_image(near[i]);
  const auto sides = refine(bgr, paper_mask(bgr.size(), markers), plane, start, thickness, resin);
  if (!sides) {
    result.reason =
        "A side of the sheet could not be followed. Photograph the whole sheet with nothing on its border, on a table "
        "that differs from it.";
    return result;
  }
  std::array<ImagePoint, 4> corners;
  for (int i = 0; i < 4; ++i) corners[i] = image_point(plane, sides->corner[i]);
  const int first = first_corner(corners, markers, datum_strip);
  for (int i = 0; i < 4; ++i) {
    result.corners_px[i] = corners[(first + i) % 4];
    const SideEdge& edge = sides->edge[(first + i) % 4];
    result.rough = result.rough || edge.rough;
    result.resin[i] = edge.resin;
    result.side_sd_px[i] = edge.end_sd * std::max(px_per_unit(plane, sides->corner[(first + i) % 4]),
                                                  px_per_unit(plane, sides->corner[(first + i + 1) % 4]));
  }
  result.polygon_px = polygon(plane, *sides, first);
  result.cloth_px = cloth_polygon(plane, *sides, first);
  result.corner_u95_px = corner_u95_px(plane, *sides);
  result.found = true;
  return result;
}

}  // namespace

Outline find_outline(const cv::Mat& bgr, const std::vector<Marker>& markers, const SheetMap* table, Mm thickness,
                     std::optional<int> datum_strip) {
  const outline::Coarse coarse = outline::find_coarse(bgr, markers);
  if (!coarse.corners) {
    Outline result;
    result.reason = coarse.reason;
    return result;
  }
  // Without strips a sheet is taken to be some 200 mm across: only window sizes depend on it.
  const double diagonal = cv::norm((*coarse.corners)[2] - (*coarse.corners)[0]);
  const Plane plane(table, diagonal / 280.0);
  return outline_near(bgr, markers, plane, *coarse.corners, thickness, datum_strip);
}

Outline find_outline_again(const cv::Mat& bgr, const Outline& first, const std::vector<Marker>& markers,
                           const SheetMap& face, Mm thickness, std::optional<int> datum_strip) {
  std::array<cv::Point2d, 4> near;
  for (int i = 0; i < 4; ++i) near[i] = {first.corners_px[i].x, first.corners_px[i].y};
  return outline_near(bgr, markers, Plane(&face, 1.0), near, thickness, datum_strip, first.resin);
}

}  // namespace sheetloupe
