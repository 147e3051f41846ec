// The scale without strips: the sheet's own four corners, tied to mm by its measured sides and diagonals.
#include <Eigen/Dense>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "scale/uncertainty.h"
#include "sheetloupe/scale.h"

namespace sheetloupe {
namespace {

using Quad = std::array<SheetPoint, 4>;

// Lengths that were read, between corners by number.
struct Reading {
  int from, to;
  double mm;
};

// Corner 1 at the origin, corner 2 on +x; the other five coordinates by least squares on the lengths (Gauss-Newton from
// the rectangle; converges in a few rounds as the sheet is nearly one).
Quad quad_from_lengths(const std::vector<Reading>& readings, double width, double height) {
  Eigen::Matrix<double, 5, 1> u;
  u << width, width, height, 0.0, height;  // x2, x3, y3, x4, y4
  const auto corner = [&](int i) -> Eigen::Vector2d {
    switch (i) {
      case 0:
        return {0, 0};
      case 1:
        return {u[0], 0};
      case 2:
        return {u[1], u[2]};
      default:
        return {u[3], u[4]};
    }
  };
  constexpr std::array<std::array<int, 2>, 4> kColumn = {{{-1, -1}, {0, -1}, {1, 2}, {3, 4}}};
  for (int round = 0; round < 20; ++round) {
    Eigen::MatrixXd j = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(readings.size()), 5);
    Eigen::VectorXd r(readings.size());
    for (std::size_t i = 0; i < readings.size(); ++i) {
      const Eigen::Vector2d d = corner(readings[i].to) - corner(readings[i].from);
      const double length = d.norm();
      const auto row = static_cast<Eigen::Index>(i);
      r[row] = readings[i].mm - length;
      for (int axis = 0; axis < 2; ++axis) {
        if (kColumn[readings[i].to][axis] >= 0) j(row, kColumn[readings[i].to][axis]) += d[axis] / length;
        if (kColumn[readings[i].from][axis] >= 0) j(row, kColumn[readings[i].from][axis]) -= d[axis] / length;
      }
    }
    const Eigen::VectorXd step = j.completeOrthogonalDecomposition().solve(r);
    u += step;
    if (step.norm() < 1e-10) break;
  }
  return {SheetPoint{0, 0}, {u[0], 0}, {u[1], u[2]}, {u[3], u[4]}};
}

cv::Matx33d homography(const std::array<ImagePoint, 4>& from, const Quad& to) {
  std::array<cv::Point2f, 4> a, b;
  for (int i = 0; i < 4; ++i) {
    a[i] = {static_cast<float>(from[i].x), static_cast<float>(from[i].y)};
    b[i] = {static_cast<float>(to[i].x), static_cast<float>(to[i].y)};
  }
  return cv::getPerspectiveTransform(a.data(), b.data());
}

SheetPoint apply(const cv::Matx33d& h, double x, double y) {
  const cv::Vec3d p = h * cv::Vec3d(x, y, 1.0);
  return {p[0] / p[2], p[1] / p[2]};
}

class PlaneMap final : public SheetMap {
 public:
  explicit PlaneMap(const cv::Matx33d& sheet_from_image)
      : sheet_from_image_(sheet_from_image), image_from_sheet_(sheet_from_image.inv()) {}
  ImagePoint image_from_sheet(SheetPoint p) const override {
    const SheetPoint q = apply(image_from_sheet_, p.x, p.y);
    return {q.x, q.y};
  }
  SheetPoint sheet_from_image(ImagePoint p) const override { return apply(sheet_from_image_, p.x, p.y); }
  ImagePoint image_from_sheet_below(SheetPoint p, Mm) const override { return image_from_sheet(p); }

 private:
  cv::Matx33d sheet_from_image_, image_from_sheet_;
};

struct Lengths {
  std::vector<Reading> readings;
  double width = 0.0, height = 0.0;  // start of the fit
  double sd_mm = 0.3;
  double skew_sd = 0.0;  // rad; only where the right angle is assumed
};

std::optional<Lengths> lengths_of(const LengthStandards& s) {
  Lengths lengths;
  lengths.sd_mm = s.size_u95_mm / 1.96;
  if (s.sides_mm && !s.diagonals_mm.empty()) {
    for (int i = 0; i < 4; ++i) lengths.readings.push_back({i, (i + 1) % 4, (*s.sides_mm)[i]});
    for (std::size_t i = 0; i < s.diagonals_mm.size() && i < 2; ++i) {
      lengths.readings.push_back({static_cast<int>(i), static_cast<int>(i) + 2, s.diagonals_mm[i]});
    }
    lengths.width = (*s.sides_mm)[0];
    lengths.height = (*s.sides_mm)[3];
    return lengths;
  }
  if (!s.size_mm && !s.sides_mm) return {};
  lengths.width = s.size_mm ? (*s.size_mm)[0] : (*s.sides_mm)[0];
  lengths.height = s.size_mm ? (*s.size_mm)[1] : (*s.sides_mm)[3];
  const double diagonal = std::hypot(lengths.width, lengths.height);
  lengths.readings = {{0, 1, lengths.width},  {1, 2, lengths.height}, {2, 3, lengths.width},
                      {3, 0, lengths.height}, {0, 2, diagonal},       {1, 3, diagonal}};
  lengths.skew_sd = 0.005;  // a hand-trimmed corner is square to some 0.3 degrees (common practice, no source)
  return lengths;
}

// One draw of everything that is not known exactly: readings, corners, squareness and the lens.
Eigen::MatrixX2d drawn_shape(const ScaleInput& input, const Lengths& lengths, int sample, unsigned seed) {
  constexpr double kCornerSdPx = 0.4, kLensSd = 0.02;
  scale::Gauss gauss(seed + 7919U * static_cast<unsigned>(sample));
  const double on = sample == 0 ? 0.0 : 1.0;
  std::vector<Reading> readings = lengths.readings;
  for (Reading& r : readings) r.mm += on * lengths.sd_mm * gauss();
  if (lengths.skew_sd > 0) {  // a skewed rectangle has one diagonal longer, the other shorter
    const double change =
        on * lengths.skew_sd * gauss() * lengths.width * lengths.height / std::hypot(lengths.width, lengths.height);
    readings[4].mm += change;
    readings[5].mm -= change;
  }
  std::array<ImagePoint, 4> corners = *input.corners_px;
  for (ImagePoint& c : corners) c = {c.x + on * kCornerSdPx * gauss(), c.y + on * kCornerSdPx * gauss()};
  const double k1 = on * kLensSd * gauss();
  const double cx = (input.image_size.width - 1) / 2.0, cy = (input.image_size.height - 1) / 2.0;
  // A phone's main camera sees its longer side over 1.33 focal lengths (26 mm equivalent).
  const double f = std::max(input.image_size.width, input.image_size.height) / 1.33;
  const auto straight = [&](ImagePoint p) {
    const double x = (p.x - cx) / f, y = (p.y - cy) / f, g = 1.0 - k1 * (x * x + y * y);
    return ImagePoint{cx + f * x * g, cy + f * y * g};
  };
  std::array<ImagePoint, 4> bent = corners;
  for (ImagePoint& c : bent) c = straight(c);
  const cv::Matx33d h = homography(bent, quad_from_lengths(readings, lengths.width, lengths.height));
  constexpr int kSteps = 8;
  Eigen::MatrixX2d shape((kSteps + 1) * (kSteps + 1), 2);
  const auto& c = *input.corners_px;
  for (int row = 0, i = 0; row <= kSteps; ++row) {
    for (int column = 0; column <= kSteps; ++column, ++i) {
      const double u = static_cast<double>(column) / kSteps, v = static_cast<double>(row) / kSteps;
      const ImagePoint p = straight({(1 - v) * ((1 - u) * c[0].x + u * c[1].x) + v * ((1 - u) * c[3].x + u * c[2].x),
                                     (1 - v) * ((1 - u) * c[0].y + u * c[1].y) + v * ((1 - u) * c[3].y + u * c[2].y)});
      const SheetPoint q = apply(h, p.x, p.y);
      shape.row(i) << q.x, q.y;
    }
  }
  return shape;
}

}  // namespace

Scale scale_from_sides(const ScaleInput& input, const ScaleOptions& options) {
  Scale scale;
  const auto lengths = lengths_of(input.standards);
  if (!input.corners_px || !lengths) {
    scale.reason =
        "No length standard: no printed strip is readable, and sheet.json names neither sides_mm with a diagonal nor "
        "size_mm. Print the strips (sheetloupe strips), or measure the four sides and a diagonal.";
    return scale;
  }
  scale.source = ScaleSource::sides;
  if (lengths->skew_sd > 0) {
    scale.advice.push_back(
        "The sheet's corners were taken as square. Measure the four sides and a diagonal (sides_mm, "
        "diagonals_mm), or lay printed strips, to be sure.");
  }
  scale.map = std::make_shared<PlaneMap>(
      homography(*input.corners_px, quad_from_lengths(lengths->readings, lengths->width, lengths->height)));
  scale.position_u95_mm = scale::position_u95_mm(
      [&](int sample) { return drawn_shape(input, *lengths, sample, options.seed); }, options.u95_draws);
  return scale;
}

}  // namespace sheetloupe
