#include "markers/refine.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "sheetloupe/median.h"

namespace sheetloupe::markers {
namespace {

// Line as point and unit direction.
struct Line {
  cv::Point2d at, along;
};

// Cameras store about the 2.2th root of the light (sRGB, IEC 61966-2-1, is close to it); an edge is straight blur, and
// the mean of two pixels means something, only in light.
std::array<double, 256> light_of_level() {
  std::array<double, 256> table{};
  for (std::size_t i = 0; i < table.size(); ++i) table[i] = std::pow(static_cast<double>(i) / 255.0, 2.2);
  return table;
}

std::optional<double> sample(const cv::Mat& grey, cv::Point2d p) {
  static const std::array<double, 256> kLight = light_of_level();
  const int x = static_cast<int>(std::floor(p.x)), y = static_cast<int>(std::floor(p.y));
  if (x < 0 || y < 0 || x + 1 >= grey.cols || y + 1 >= grey.rows) return {};
  const double u = p.x - x, v = p.y - y;
  const auto* top = grey.ptr<unsigned char>(y);
  const auto* bottom = grey.ptr<unsigned char>(y + 1);
  return (1 - v) * ((1 - u) * kLight[top[x]] + u * kLight[top[x + 1]]) +
         v * ((1 - u) * kLight[bottom[x]] + u * kLight[bottom[x + 1]]);
}

// How far a profile reaches, px. Inward it stays on the black border, a sixth of the side wide; outward on the white
// round the marker, a quarter of the side.
struct Reach {
  double in = 0.0, out = 0.0;
};

// Where black turns to white along a profile from inside to outside, by the area under it: unbiased by
// symmetric blur. None when the profile leaves the picture or shows no edge.
std::optional<double> edge_offset(const cv::Mat& grey, cv::Point2d centre, cv::Point2d outward, Reach reach) {
  constexpr double kStep = 0.5;
  const int n = static_cast<int>((reach.in + reach.out) / kStep) + 1;
  std::vector<double> profile(n);
  for (int i = 0; i < n; ++i) {
    const auto value = sample(grey, centre + outward * (-reach.in + i * kStep));
    if (!value) return {};
    profile[i] = *value;
  }
  const int ends = std::max(2, n / 5);
  double black = 0.0, white = 0.0;
  for (int i = 0; i < ends; ++i) {
    black += profile[i] / ends;
    white += profile[n - 1 - i] / ends;
  }
  // Paper reflects some ten times more than print; below a quarter of the range nothing separates edge from noise.
  if (white - black < 0.02 || white < 1.6 * black) return {};
  double dark_length = 0.0;
  for (const double value : profile) dark_length += std::clamp((white - value) / (white - black), -0.5, 1.5) * kStep;
  return -reach.in - kStep / 2.0 + dark_length;
}

std::optional<Line> fit_line(const std::vector<cv::Point2d>& points, double* rms) {
  if (points.size() < 6) return {};
  std::vector<double> weight(points.size(), 1.0);
  Line line;
  double scatter = 0.0;
  for (int round = 0; round < 5; ++round) {
    double sum = 0, mx = 0, my = 0;
    for (std::size_t i = 0; i < points.size(); ++i) {
      sum += weight[i];
      mx += weight[i] * points[i].x;
      my += weight[i] * points[i].y;
    }
    line.at = {mx / sum, my / sum};
    double xx = 0, xy = 0, yy = 0;
    for (std::size_t i = 0; i < points.size(); ++i) {
      const cv::Point2d d = points[i] - line.at;
      xx += weight[i] * d.x * d.x;
      xy += weight[i] * d.x * d.y;
      yy += weight[i] * d.y * d.y;
    }
    const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
    line.along = {std::cos(angle), std::sin(angle)};
    std::vector<double> miss(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) miss[i] = std::abs((points[i] - line.at).cross(line.along));
    scatter = std::max(1.4826 * median(miss), 0.01);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const double r = miss[i] / (2.0 * scatter);
      weight[i] = 1.0 / (1.0 + r * r);  // Cauchy
    }
  }
  *rms = scatter;
  return line;
}

std::optional<cv::Point2d> meet(const Line& a, const Line& b) {
  const double cross = a.along.cross(b.along);
  if (std::abs(cross) < 0.1) return {};
  return a.at + a.along * ((b.at - a.at).cross(b.along) / cross);
}

std::optional<Line> side_line(const cv::Mat& grey, cv::Point2d a, cv::Point2d b, Reach reach, double* rms) {
  const cv::Point2d along = b - a;
  const double length = cv::norm(along);
  // Corners run clockwise, y down: the outside lies to the left of the walk.
  const cv::Point2d outward{along.y / length, -along.x / length};
  const int count = std::clamp(static_cast<int>(length * 0.8 / 2.0), 12, 80);
  std::vector<cv::Point2d> edge;
  for (int i = 0; i < count; ++i) {
    const double u = 0.1 + 0.8 * (i + 0.5) / count;
    const cv::Point2d centre = a + along * u;
    if (const auto offset = edge_offset(grey, centre, outward, reach)) edge.push_back(centre + outward * *offset);
  }
  if (static_cast<int>(edge.size()) < count / 2) return {};
  return fit_line(edge, rms);
}

// Shares of the side: clear of the first inner cell (0.167) and of the strip's edge (0.25) by the blur of a small
// marker.
constexpr double kInwardShare = 0.11, kOutwardShare = 0.20;
// Under two pixels a cell the border is no plateau any more.
constexpr double kLeastSidePx = 12.0;

// Printed sides scatter 0.02 to 0.1 px in good photos, 0.3 px in dark and shaken ones.
constexpr double kMostScatterPx = 0.8;

// A square seen up to 60 degrees from above keeps its sides within a factor of about 2.5 and turns one way.
bool printed_shape(const std::array<cv::Point2d, 4>& c) {
  double shortest = 1e9, longest = 0.0;
  for (int i = 0; i < 4; ++i) {
    const cv::Point2d a = c[(i + 1) % 4] - c[i], b = c[(i + 2) % 4] - c[(i + 1) % 4];
    if (a.cross(b) <= 0) return false;
    shortest = std::min(shortest, cv::norm(a));
    longest = std::max(longest, cv::norm(a));
  }
  return longest < 2.5 * shortest;
}

}  // namespace

bool refine(const cv::Mat& grey, Marker& marker, const MarkerOptions& options) {
  std::array<cv::Point2d, 4> corners;
  for (int i = 0; i < 4; ++i) corners[i] = {marker.corners[i].x, marker.corners[i].y};
  for (int round = 0; round < options.rounds; ++round) {
    std::array<Line, 4> sides;
    double worst = 0.0;
    for (int i = 0; i < 4; ++i) {
      const cv::Point2d a = corners[i], b = corners[(i + 1) % 4];
      const double length = cv::norm(b - a), half = options.profile_half_px;
      const Reach reach{std::min(half, kInwardShare * length), std::min(half, kOutwardShare * length)};
      if (length < kLeastSidePx) return false;
      double rms = 0.0;
      const auto line = side_line(grey, a, b, reach, &rms);
      if (!line) return false;
      sides[i] = *line;
      worst = std::max(worst, rms);
    }
    for (int i = 0; i < 4; ++i) {
      const auto corner = meet(sides[(i + 3) % 4], sides[i]);
      if (!corner || cv::norm(*corner - corners[i]) > 6.0) return false;
      corners[i] = *corner;
    }
    marker.side_scatter_px = worst;
  }
  if (marker.side_scatter_px > kMostScatterPx || !printed_shape(corners)) return false;
  for (int i = 0; i < 4; ++i) marker.corners[i] = {corners[i].x, corners[i].y};
  return true;
}

}  // namespace sheetloupe::markers
