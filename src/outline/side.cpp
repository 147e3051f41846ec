#include "outline/side.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <tuple>

#include "outline/band.h"
#include "outline/material.h"
#include "outline/path.h"
#include "outline/weave_end.h"
#include "sheetloupe/median.h"

namespace sheetloupe::outline {
namespace {

// The coarse line may include a shadow on one end and cut a corner on the other: the first pass looks wide and finds
// where the weave ends; the second is aligned with that.
constexpr Reach kWide{-24.0, 12.0, 0.25}, kFine{-6.0, 9.0, 0.1};

// Mean brightness of the rows [from, to) beside a path, all columns.
double mean_beside(const Band& band, const Path& path, double from, double to) {
  double sum = 0;
  int n = 0;
  for (int c = 0; c < band.log_grey.cols; ++c) {
    for (int r = static_cast<int>(std::lround(path.rows[c] + from));
         r < static_cast<int>(std::lround(path.rows[c] + to)); ++r) {
      if (r < 0 || r >= band.log_grey.rows) continue;
      sum += band.log_grey.at<float>(r, c);
      ++n;
    }
  }
  return n ? sum / n : 0.0;
}

// How far outside the face's edge the foot of the wall is seen, plane units; not above zero when the wall is hidden.
double wall_width(const Band& band, const Plane& plane, double row, Mm thickness) {
  const cv::Point2d edge = band.start + band.along * (kColumns / 2.0) + band.outward * band.offset_of(row);
  return (plane.foot_from_edge(edge, thickness) - edge).dot(band.outward);
}

// Whether the path is the wall's foot: the wall is the dark side of it, so what lies just inside is darker than what
// lies just outside.
bool is_foot(const Band& band, const Path& path, double width_rows) {
  const double inside = mean_beside(band, path, -width_rows + 0.5, -0.5);
  const double outside = mean_beside(band, path, 1.5, 1.5 + width_rows);
  return inside < outside;
}

// Without depth: a wall shows as a narrow band inside the path, darker than the weave and than what lies outside. Its
// width in rows, 0 when there is none.
double dark_band_width(const Band& band, const Path& path) {
  constexpr int kWidest = 30;
  std::vector<double> level;
  for (int k = 1; k <= kWidest + 20; ++k) level.push_back(mean_beside(band, path, -k - 0.5, -k + 0.5));
  const double weave = median(std::vector<double>(level.begin() + kWidest / 2, level.end()));
  const double outside = mean_beside(band, path, 3, 8);
  const double dark = std::min(level[1], level[2]);
  // e^-0.35: the wall faces away from the lamp and sends less than two thirds of the weave's light.
  if (dark > weave - 0.35 || dark > outside - 0.35) return 0.0;
  const double half = 0.5 * (dark + weave);
  for (int k = 1; k < kWidest; ++k) {
    if (level[k] > half) return k + (half - level[k - 1]) / std::max(level[k] - level[k - 1], 1e-6);
  }
  return 0.0;
}

// Straight line through points with outliers down-weighted (Cauchy).
void fit_line(SideEdge& side) {
  const std::size_t n = side.points.size();
  std::vector<double> weight(n, 1.0), miss(n);
  for (int round = 0; round < 12; ++round) {
    cv::Point2d mean;
    double sum = 0, xx = 0, xy = 0, yy = 0;
    for (std::size_t i = 0; i < n; ++i) {
      mean += side.points[i] * weight[i];
      sum += weight[i];
    }
    mean /= sum;
    for (std::size_t i = 0; i < n; ++i) {
      const cv::Point2d d = side.points[i] - mean;
      xx += weight[i] * d.x * d.x;
      xy += weight[i] * d.x * d.y;
      yy += weight[i] * d.y * d.y;
    }
    const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
    side.at = mean;
    side.along = {std::cos(angle), std::sin(angle)};
    for (std::size_t i = 0; i < n; ++i) miss[i] = std::abs((side.points[i] - mean).cross(side.along));
    side.scatter = std::max(1.4826 * median(miss), 0.02);
    for (std::size_t i = 0; i < n; ++i) weight[i] = 1.0 / (1.0 + std::pow(miss[i] / (2.5 * side.scatter), 2));
  }
}

// Neighbouring points err together, so the line is judged by blocks of points: the scatter of their medians about it.
// A straight line through n places with independent errors sd is good to 2 sd / sqrt(n) at its ends (the variance of a
// fitted line at the ends of its own range is 4/n of theirs for large n).
double end_sd_of(const SideEdge& side) {
  constexpr std::size_t kBlocks = 10;
  const std::size_t size = side.points.size() / kBlocks;
  if (size == 0) return 0.0;
  double squares = 0.0;
  for (std::size_t b = 0; b < kBlocks; ++b) {
    std::vector<double> off;
    for (std::size_t i = b * size; i < (b + 1) * size; ++i) off.push_back((side.points[i] - side.at).cross(side.along));
    squares += std::pow(median(off), 2);
  }
  return 2.0 * std::sqrt(squares / (kBlocks - 2.0)) / std::sqrt(static_cast<double>(kBlocks));
}

// The map without everything up to some rows outside of a path.
cv::Mat1f beyond(const cv::Mat1f& map, const Path& path, int rows) {
  cv::Mat1f out = map.clone();
  for (int c = 0; c < out.cols; ++c) {
    for (int r = 0; r <= std::min(path.rows[c] + rows, out.rows - 1); ++r) out(r, c) = 0.0F;
  }
  return out;
}

// Whether the weave ends tow by tow, as no saw leaves it. On rendered sheets the light's strongest path along a ragged
// end scatters 1.3 to 4 rows, along a trimmed one 0 to 0.8 and, in deep shadow, where the light wavers, up to 1.9; the
// colour's path 0.5 rows and more along a ragged end and none at all along a trimmed one on a coloured table.
bool ends_raggedly(const Path& light, const Path& colour) {
  constexpr double kRaggedRows = 1.2, kRaggedColourRows = 0.3;
  return straightness(light) > kRaggedRows && straightness(colour) > kRaggedColourRows;
}

// How much farther from one path the other is at one end of the side than at the other end, rows.
double widening(const Path& inner, const Path& outer) {
  const int third = kColumns / 3;
  std::vector<double> first, last;
  for (int c = 0; c < third; ++c) {
    first.push_back(outer.rows[c] - inner.rows[c]);
    last.push_back(outer.rows[kColumns - 1 - c] - inner.rows[kColumns - 1 - c]);
  }
  return std::abs(median(first) - median(last)) * kColumns / (kColumns - third);
}

struct Border {
  Path outer, weave;  // the resin's outer end, the weave's end
};

// The resin border, when there is one.
std::optional<Border> resin_border(const Band& band, const Path& near, int weave_end_row, double wall_rows) {
  constexpr double kLeastStrength = 0.5, kWidestTurn = 12.0;
  const cv::Range rows(weave_end_row - 20, weave_end_row + 90);  // all that the paths below may see
  const cv::Mat1f material = material_edges(band, {2, 6}, 5.0, rows), fine = material_edges(band, {1, 3}, 10.0, rows);
  const int clear = 10 + static_cast<int>(wall_rows);
  cv::Mat1f sharp, any;
  cv::max(fine, band.edge, sharp);
  cv::max(material, band.edge, any);
  const Path cloth = strongest_path(fine, weave_end_row - 12, weave_end_row + 14);
  const bool ragged = ends_raggedly(near, cloth);
  // A wide border first: the weave's own end, which is as strong, is left out. Then a narrow one.
  for (const int narrowest : {14, 9, 3}) {
    const cv::Mat1f outside = beyond(narrowest > 3 ? any : sharp, cloth, narrowest);
    const Path coarse = strongest_path(outside, weave_end_row - 10, weave_end_row + 80);
    // A path along the very border of what was left out is the weave's end once more; one that runs off at an angle is
    // something on the table.
    const bool hugs = middle_row(coarse) - std::max(middle_row(cloth), weave_end_row + wall_rows) < narrowest + 3;
    if (coarse.strength < kLeastStrength) continue;
    if (!ragged && (hugs || widening(cloth, coarse) > kWidestTurn)) continue;
    if (!is_material_end(jump_across(band, coarse, cloth, clear), ragged)) continue;
    Path path = followed(sharp, coarse, 4);
    path.strength = coarse.strength;
    return Border{path, cloth};
  }
  return {};
}

// Where the weave ends when the outermost place that is rough like weave turned out to be the resin's own mottled end:
// the rim inside of the edge then has another colour than the weave farther in. `rim`: first row of the rim, counted
// inward from the edge.
std::optional<Path> weave_inside_rim(const Band& band, const Path& edge, int rim) {
  // Wetted, dry and glaring cloth are all of one neutral colour; resins lay 0.09 to 0.17 beside it on rendered sheets.
  constexpr double kRimColour = 0.05;
  const cv::Vec3d turn = mean_colour(band, edge, -rim - 10, -rim - 2) - mean_colour(band, edge, -rim - 60, -rim - 45);
  if (std::hypot(turn[1], turn[2]) < kRimColour) return {};
  const int row = static_cast<int>(middle_row(edge)) - rim;
  return strongest_path(material_edges(band, {1, 3}, 10.0, {row - 60, row - 5}), row - 60, row - 6);
}

}  // namespace

SideEdge find_side(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
                   Mm thickness, std::optional<bool> resin) {
  SideEdge side;
  if (const auto line = weave_end_line(cut_grey_band(bgr, strips, plane, a, b, kWide))) std::tie(a, b) = *line;
  const Band band = cut_band(bgr, strips, plane, a, b, kFine);
  const int end = weave_end(roughness(detail_of(band)));
  const int from = end >= 0 ? end : static_cast<int>(band.row_of(-3.0));
  const double wall = std::max(0.0, wall_width(band, plane, from, thickness)) / band.step;  // rows
  const int slack = end >= 0 ? 8 : 40;
  const Path near = strongest_path(band.edge, from - slack, from + slack + static_cast<int>(wall));
  std::optional<Border> border;
  const bool may_be_resin = end >= 0 && resin.value_or(true);
  if (may_be_resin) border = resin_border(band, near, from, wall);
  const Path& path = border ? border->outer : near;
  // A border that is hardly wider than the weave's end is ragged belongs to a trimmed side that is hard to see.
  constexpr double kLeastBorderRows = 6;
  side.rough = border && middle_row(border->outer) - from > kLeastBorderRows;
  if (path.strength < 0.25) return side;
  double inward = 0.0;  // rows from the path to the face's edge
  if (plane.knows_depth()) {
    if (wall >= 1.5 && is_foot(band, path, wall)) inward = wall;
  } else {
    inward = dark_band_width(band, path);
  }
  std::optional<Path> weave;
  if (border) weave = border->weave;
  if (!border && may_be_resin) weave = weave_inside_rim(band, path, static_cast<int>(std::lround(inward)));
  side.rough = side.rough || (!border && weave);
  side.resin = weave.has_value();
  for (int c = 0; c < kColumns; ++c) {
    const cv::Point2d base = band.start + band.along * c;
    side.points.push_back(base + band.outward * band.offset_of(refined_row(band.gradient, path.rows[c], c) - inward));
    if (end < 0) continue;
    const double row = weave ? weave->rows[c] : end;
    side.cloth.push_back(base + band.outward * band.offset_of(std::min<double>(row, path.rows[c] - inward)));
  }
  fit_line(side);
  side.end_sd = end_sd_of(side);
  side.found = true;
  return side;
}

}  // namespace sheetloupe::outline
