#include "outline/side.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <tuple>

namespace sheetloupe::outline {
namespace {

constexpr int kColumns = 240;       // profiles along a side
constexpr double kSkipEnds = 0.05;  // of the side at each end: corners are rounded and chipped

// How far a pass looks to both sides of its line, and how finely, plane units.
struct Reach {
  double inner, outer, step;
};
// The coarse line may include a shadow on one end and cut a corner on the other: the first pass looks wide and finds
// where the weave ends; the second is aligned with that.
constexpr Reach kWide{-48.0, 14.0, 0.25}, kFine{-6.0, 9.0, 0.1};

double median(std::vector<double> values) {
  if (values.empty()) return 0.0;
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2), values.end());
  return values[values.size() / 2];
}

// Gradient across the side in all colours, turned into [0, 1] by what sound table shows (rows far outside): an edge
// four times above that is certain.
void measure_edges(const cv::Mat& picture, Band& band) {
  cv::Mat blurred, gradient, squares, sum;
  cv::GaussianBlur(picture, blurred, {1, 0}, 0.8, 1.0);
  cv::Mat kernel = (cv::Mat_<float>(5, 1) << -0.5F, -1.F, 0.F, 1.F, 0.5F);
  cv::filter2D(blurred, gradient, CV_32F, kernel / 3.F);
  cv::multiply(gradient, gradient, squares);
  cv::transform(squares, sum, cv::Matx13f(1, 1, 1));
  cv::sqrt(sum, sum);
  std::vector<double> quiet;
  for (int row = sum.rows - 30; row < sum.rows - 4; ++row) {
    for (int c = 0; c < sum.cols; c += 3) {
      if (band.paper.at<unsigned char>(row, c) == 0) quiet.push_back(sum.at<float>(row, c));
    }
  }
  const double cap = std::max(4.0 * median(quiet), 3.0);  // 3 grey levels a row: sensor noise alone stays below
  cv::min(sum / cap, 1.0, band.edge);
  band.gradient = sum;
}

Band cut_band(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
              const Reach& reach) {
  Band band;
  band.inner = reach.inner;
  band.step = reach.step;
  const cv::Point2d side = b - a;
  const double length = cv::norm(side);
  const cv::Point2d direction = side / length;
  band.outward = {direction.y, -direction.x};  // clockwise walk, y down: outside is to the left
  band.start = a + side * kSkipEnds;
  band.along = side * ((1.0 - 2 * kSkipEnds) / (kColumns - 1));
  const int rows = static_cast<int>((reach.outer - band.inner) / band.step) + 1;
  // The map is smooth: evaluated on every eighth row and column and interpolated.
  constexpr int kEvery = 8;
  const cv::Size coarse((kColumns + kEvery - 1) / kEvery + 1, (rows + kEvery - 1) / kEvery + 1);
  cv::Mat2f places(coarse);
  for (int r = 0; r < coarse.height; ++r) {
    for (int c = 0; c < coarse.width; ++c) {
      const cv::Point2d p =
          plane.image_from_plane(band.start + band.along * (c * kEvery) + band.outward * band.offset_of(r * kEvery));
      places(r, c) = cv::Vec2f(static_cast<float>(p.x), static_cast<float>(p.y));
    }
  }
  cv::Mat2f full(rows, kColumns);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < kColumns; ++c) {
      const float v = static_cast<float>(r) / kEvery, u = static_cast<float>(c) / kEvery;
      const int i = static_cast<int>(v), j = static_cast<int>(u);
      const float fv = v - static_cast<float>(i), fu = u - static_cast<float>(j);
      full(r, c) = (1 - fv) * ((1 - fu) * places(i, j) + fu * places(i, j + 1)) +
                   fv * ((1 - fu) * places(i + 1, j) + fu * places(i + 1, j + 1));
    }
  }
  cv::Mat picture, grey;
  cv::remap(bgr, picture, full, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::cvtColor(picture, grey, cv::COLOR_BGR2GRAY);
  grey.convertTo(band.log_grey, CV_32F, 1.0, 8.0);
  cv::log(band.log_grey, band.log_grey);
  cv::remap(strips, band.paper, full, cv::noArray(), cv::INTER_NEAREST, cv::BORDER_CONSTANT);
  picture.convertTo(picture, CV_32F);
  measure_edges(picture, band);
  band.edge.setTo(0, band.paper);
  band.gradient.setTo(0, band.paper);
  return band;
}

// How rough the picture is along the side, on the logarithmic scale: high on the weave, low on table, shadow and wall.
cv::Mat detail_of(const Band& band) {
  cv::Mat slow;
  cv::GaussianBlur(band.log_grey, slow, {31, 1}, 8.0, 0.1);
  cv::Mat detail = cv::abs(band.log_grey - slow);
  cv::Mat near_paper;
  cv::dilate(band.paper, near_paper, cv::Mat::ones(5, 41, CV_8U));
  detail.setTo(0, near_paper);
  return detail;
}

// Mean roughness of each row over some columns, smoothed over five rows.
std::vector<double> roughness(const cv::Mat& detail) {
  std::vector<double> rough(detail.rows);
  for (int r = 0; r < detail.rows; ++r) rough[r] = cv::mean(detail.row(r))[0];
  std::vector<double> smooth(rough.size());
  for (int r = 0; r < static_cast<int>(rough.size()); ++r) {
    double sum = 0, n = 0;
    for (int k = -2; k <= 2; ++k) {
      const int q = r + k;
      if (q >= 0 && q < static_cast<int>(rough.size())) {
        sum += rough[q];
        n += 1;
      }
    }
    smooth[r] = sum / n;
  }
  return smooth;
}

// The outermost row that is still as rough as half way between table and weave.
int weave_end(const std::vector<double>& rough) {
  const auto n = static_cast<std::ptrdiff_t>(rough.size());
  const double weave = median({rough.begin(), rough.begin() + n / 3});
  const double table = median({rough.end() - n / 5, rough.end()});
  const double half = 0.5 * (weave + table);
  if (weave < 1.3 * table) return -1;
  for (int r = static_cast<int>(n) - 1; r > 0; --r) {
    if (rough[r] >= half) {
      // A scratch or a grain line far out is narrow; the weave goes on inside.
      int inside = 0;
      for (int k = 1; k <= 15 && r - k >= 0; ++k) inside += rough[r - k] >= 0.8 * half ? 1 : 0;
      if (inside >= 11) return r;
    }
  }
  return -1;
}

// The line along which the weave ends, from groups of columns that each vote: the pair of groups whose line most others
// agree with. None when most groups see no end.
std::optional<std::pair<cv::Point2d, cv::Point2d>> weave_end_line(const Band& band) {
  constexpr int kGroups = 16;
  constexpr double kAgree = 1.5;  // plane units
  const cv::Mat detail = detail_of(band);
  std::vector<cv::Point2d> ends;  // column, offset
  for (int g = 0; g < kGroups; ++g) {
    const int width = kColumns / kGroups;
    const int row = weave_end(roughness(detail.colRange(g * width, (g + 1) * width)));
    if (row >= 0) ends.emplace_back((g + 0.5) * width, band.offset_of(row));
  }
  if (ends.size() < kGroups / 2) return {};
  double best_votes = 0;
  cv::Vec2d best;
  for (std::size_t i = 0; i < ends.size(); ++i) {
    for (std::size_t j = i + 3; j < ends.size(); ++j) {
      const double slope = (ends[j].y - ends[i].y) / (ends[j].x - ends[i].x);
      double votes = 0;
      for (const cv::Point2d& e : ends) {
        const double miss = std::abs(ends[i].y + slope * (e.x - ends[i].x) - e.y) / kAgree;
        votes += std::max(0.0, 1.0 - miss * miss);
      }
      if (votes > best_votes) {
        best_votes = votes;
        best = {ends[i].y - slope * ends[i].x, slope};
      }
    }
  }
  if (best_votes < kGroups / 4.0) return {};
  const auto at = [&](double c) { return band.start + band.along * c + band.outward * (best[0] + best[1] * c); };
  const double beyond = kSkipEnds / (1.0 - 2 * kSkipEnds) * (kColumns - 1);
  return std::pair{at(-beyond), at(kColumns - 1 + beyond)};
}

struct Path {
  std::vector<int> rows;  // one a column
  double strength = 0.0;  // mean edge strength along it
};

// The strongest smooth path between two rows: dynamic programme, a step of one row a column costs a little.
Path strongest_path(const cv::Mat& edge, int from, int to) {
  from = std::clamp(from, 0, edge.rows - 2);
  to = std::clamp(to, from + 1, edge.rows - 1);
  const int n = to - from + 1;
  constexpr float kStepCost = 0.12F;
  cv::Mat1f best(edge.cols, n);
  cv::Mat1b came(edge.cols, n);
  for (int i = 0; i < n; ++i) best(0, i) = edge.at<float>(from + i, 0);
  for (int c = 1; c < edge.cols; ++c) {
    for (int i = 0; i < n; ++i) {
      float top = best(c - 1, i);
      int source = 0;
      if (i > 0 && best(c - 1, i - 1) - kStepCost > top) top = best(c - 1, i - 1) - kStepCost, source = 1;
      if (i + 1 < n && best(c - 1, i + 1) - kStepCost > top) top = best(c - 1, i + 1) - kStepCost, source = 2;
      best(c, i) = top + edge.at<float>(from + i, c);
      came(c, i) = static_cast<unsigned char>(source);
    }
  }
  Path path;
  path.rows.resize(edge.cols);
  int i = 0;
  for (int k = 1; k < n; ++k) {
    if (best(edge.cols - 1, k) > best(edge.cols - 1, i)) i = k;
  }
  for (int c = edge.cols - 1; c >= 0; --c) {
    path.rows[c] = from + i;
    path.strength += edge.at<float>(from + i, c) / edge.cols;
    if (c > 0) i += came(c, i) == 1 ? -1 : came(c, i) == 2 ? 1 : 0;
  }
  return path;
}

// Scatter of a path about its own straight line, rows (robust).
double straightness(const Path& path) {
  const int n = static_cast<int>(path.rows.size());
  std::vector<double> slopes;
  for (int c = 0; c + n / 2 < n; ++c) slopes.push_back((path.rows[c + n / 2] - path.rows[c]) / (n / 2.0));
  const double slope = median(slopes);
  std::vector<double> level(n), miss(n);
  for (int c = 0; c < n; ++c) level[c] = path.rows[c] - slope * c;
  const double base = median(level);
  for (int c = 0; c < n; ++c) miss[c] = std::abs(level[c] - base);
  return 1.4826 * median(miss);
}

double middle_row(const Path& path) { return median({path.rows.begin(), path.rows.end()}); }

// Sub-row place of the edge beside a path: the parabola through the strength of three rows.
double refined_row(const cv::Mat& gradient, int row, int column) {
  int best = row;
  for (int r = std::max(1, row - 2); r <= std::min(gradient.rows - 2, row + 2); ++r) {
    if (gradient.at<float>(r, column) > gradient.at<float>(best, column)) best = r;
  }
  if (best < 1 || best + 1 >= gradient.rows) return row;
  const double a = gradient.at<float>(best - 1, column), b = gradient.at<float>(best, column),
               c = gradient.at<float>(best + 1, column);
  const double curve = a - 2 * b + c;
  return curve < -1e-6 ? best + std::clamp(0.5 * (a - c) / curve, -1.0, 1.0) : best;
}

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
  const double weave = median({level.begin() + kWidest / 2, level.end()});
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

}  // namespace

SideEdge find_side(const cv::Mat& bgr, const cv::Mat& strips, const Plane& plane, cv::Point2d a, cv::Point2d b,
                   Mm thickness) {
  SideEdge side;
  if (const auto line = weave_end_line(cut_band(bgr, strips, plane, a, b, kWide))) std::tie(a, b) = *line;
  const Band band = cut_band(bgr, strips, plane, a, b, kFine);
  const int end = weave_end(roughness(detail_of(band)));
  const int from = end >= 0 ? end : static_cast<int>(band.row_of(-3.0));
  const double wall = std::max(0.0, wall_width(band, plane, from, thickness)) / band.step;  // rows
  // A trimmed side is straight to a row and ends within two rows of the weave, its wall's foot a little outside. A
  // resin edge lies farther out, wavy and smooth, while the weave's own end is ragged and its path lies further in. On
  // rendered sheets trimmed sides scatter 0 to 1.8 rows and lie at -2 to +4; ragged ends scatter 1.3 to 4.3 rows at -7
  // to -2.
  constexpr double kStraightRows = 1.2, kRaggedRows = 2.0, kInsideRows = -3.5, kLeastStrength = 0.45, kLeastFar = 0.35;
  const int slack = end >= 0 ? 8 : 40;
  const Path near = strongest_path(band.edge, from - slack, from + slack + static_cast<int>(wall));
  const Path far = strongest_path(band.edge, from + 4, from + 70);
  const double bend = straightness(near);
  const bool ragged = bend > kRaggedRows || (bend > kStraightRows && middle_row(near) - from < kInsideRows);
  const bool trimmed = near.strength >= kLeastStrength && !ragged;
  const bool beyond = middle_row(far) - from > 6;  // else the outer path only hugs the weave's end
  const Path& path = trimmed || !beyond || far.strength < kLeastFar ? near : far;
  side.rough = !trimmed;
  if (path.strength < 0.25) return side;
  double inward = 0.0;  // rows from the path to the face's edge
  if (plane.knows_depth()) {
    if (wall >= 1.5 && is_foot(band, path, wall)) inward = wall;
  } else {
    inward = dark_band_width(band, path);
  }
  for (int c = 0; c < kColumns; ++c) {
    const cv::Point2d base = band.start + band.along * c;
    side.points.push_back(base + band.outward * band.offset_of(refined_row(band.gradient, path.rows[c], c) - inward));
    if (end >= 0)
      side.cloth.push_back(base + band.outward * band.offset_of(std::min<double>(end, path.rows[c] - inward)));
  }
  fit_line(side);
  side.found = true;
  return side;
}

}  // namespace sheetloupe::outline
