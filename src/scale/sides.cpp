// The scale without strips: the sheet's own four corners, tied to mm by its measured sides and diagonals.
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <opencv2/calib3d.hpp>

#include "scale/bundle.h"
#include "scale/camera_map.h"
#include "scale/priors.h"
#include "scale/uncertainty.h"
#include "sheetloupe/scale.h"

namespace sheetloupe {
namespace {

using namespace scale;

// How square a hand-trimmed sheet is where nobody measured it, 1 sigma: half a degree at a corner, half a millimetre
// between opposite sides (common practice, no source).
constexpr double kSquareSd = 0.0087, kParallelSdMm = 0.5;

constexpr const char* kDoNotFit =
    "The measured sides and diagonals do not fit the corners seen in the photo. Measure them again, in the order top, "
    "right, bottom, left, and check that the outline in the overlay runs along the sheet's edge.";

bool add_readings(const LengthStandards& s, QuadInput& quad) {
  const double sd = std::max(s.size_u95_mm, 0.02) / 1.96;
  if (s.sides_mm) {
    for (int i = 0; i < 4; ++i) quad.readings.push_back({i, (i + 1) % 4, (*s.sides_mm)[i], sd});
  } else if (s.size_mm) {
    quad.readings = {{0, 1, (*s.size_mm)[0], sd}, {0, 3, (*s.size_mm)[1], sd}};
    quad.parallel_sd = kParallelSdMm;
  } else {
    return false;
  }
  for (std::size_t i = 0; i < s.diagonals_mm.size() && i < 2; ++i) {
    quad.readings.push_back({static_cast<int>(i), static_cast<int>(i) + 2, s.diagonals_mm[i], sd});
  }
  if (s.diagonals_mm.empty()) quad.square_sd = kSquareSd;
  return true;
}

double distance_to_side(ImagePoint p, ImagePoint a, ImagePoint b, double* along) {
  const double dx = b.x - a.x, dy = b.y - a.y, length2 = dx * dx + dy * dy;
  *along = ((p.x - a.x) * dx + (p.y - a.y) * dy) / length2;
  return std::abs((p.x - a.x) * dy - (p.y - a.y) * dx) / std::sqrt(length2);
}

// Outline points by side. Near a corner an edge is rounded or chipped; far from the straight line it is a stray.
void add_side_points(const ScaleInput& input, QuadInput& quad) {
  constexpr double kAwayFromCorners = 0.05, kFarthestOfSide = 0.02;
  constexpr std::size_t kLeastPoints = 12;
  const auto& c = *input.corners_px;
  for (int i = 0; i < 4; ++i) {
    const ImagePoint a = c[i], b = c[(i + 1) % 4];
    for (const ImagePoint& p : input.outline_px) {
      double along = 0.0;
      const double off = distance_to_side(p, a, b, &along);
      if (along < kAwayFromCorners || along > 1 - kAwayFromCorners) continue;
      if (off < kFarthestOfSide * distance_px(a, b)) quad.side_px[i].push_back(p);
    }
    if (quad.side_px[i].size() < kLeastPoints) quad.side_px[i].clear();
  }
}

double side_mm(const LengthStandards& s, int i) {
  if (s.sides_mm) return (*s.sides_mm)[i];
  return (*s.size_mm)[i % 2];
}

// How sure the ends of each side's line are. A corner's figure holds the scatter of the worse of its sides and what
// moves a whole side; the latter is told apart here, since it bends no line.
void set_side_sds(const ScaleInput& input, QuadInput& quad) {
  // A sawn side is straight to a tenth of a millimetre, the sagitta's 1 sigma (common practice, no source). Through n
  // points that scatter by s the sagitta is sure to s sqrt(45 / 4n), the line's ends to s sqrt(4 / n): 1.68 times less.
  constexpr double kBowSdMm = 0.1, kSagittaOverEnds = 1.68;
  quad.side_sd_px.fill(quad.corner_sd_px);
  const double worst = *std::max_element(input.side_sd_px.begin(), input.side_sd_px.end());
  if (worst <= 0) return;
  for (int i = 0; i < 4; ++i) {
    const double px_per_mm =
        distance_px(quad.corners_px[i], quad.corners_px[(i + 1) % 4]) / side_mm(input.standards, i);
    quad.side_sd_px[i] = std::hypot(input.side_sd_px[i], kBowSdMm * px_per_mm / kSagittaOverEnds);
  }
  quad.side_shift_sd_px = std::sqrt(std::max(quad.corner_sd_px * quad.corner_sd_px - worst * worst, 0.0));
}

// Planar pose of a rectangle of about the sheet's size; of the two poses that a plane allows the one that fits better.
std::optional<Unknowns> start_of(const ScaleInput& input, const QuadInput& quad, double focal_px) {
  const double w = side_mm(input.standards, 0), h = side_mm(input.standards, input.standards.sides_mm ? 3 : 1);
  const std::vector<cv::Point3d> object = {{0, 0, 0}, {w, 0, 0}, {w, h, 0}, {0, h, 0}};
  std::vector<cv::Point2d> image;
  for (const ImagePoint& p : quad.corners_px) {
    image.emplace_back(p.x - quad.frame.centre_x, p.y - quad.frame.centre_y);
  }
  const cv::Matx33d intrinsics(focal_px, 0, 0, 0, focal_px, 0, 0, 0, 1);
  std::vector<cv::Mat> rotations, shifts;
  try {
    cv::solvePnPGeneric(object, image, intrinsics, cv::noArray(), rotations, shifts, false, cv::SOLVEPNP_IPPE);
  } catch (const cv::Exception&) {
    return {};  // three corners on a line
  }
  if (rotations.empty()) return {};
  cv::Matx33d r;
  cv::Rodrigues(rotations[0], r);  // sorted: the first fits best
  const cv::Vec3d shift(shifts[0]);
  cv::Vec3d n(r(0, 2), r(1, 2), r(2, 2));
  if (n[2] < 0) n = -n;
  const double height = shift.dot(n);
  if (!(height > 0)) return {};
  Unknowns u;
  u.camera[kBeta] = std::asin(std::clamp(n[0], -1.0, 1.0));
  u.camera[kAlpha] = std::atan2(-n[1], n[2]);
  u.camera[kLogF] = std::log(focal_px);
  u.camera[kLogM] = std::log(focal_px / height);
  return u;
}

Scale no_scale(const std::string& reason) {
  Scale scale;
  scale.reason = reason;
  return scale;
}

}  // namespace

Scale scale_from_sides(const ScaleInput& input, const ScaleOptions& options) {
  QuadInput quad;
  if (!input.corners_px || !add_readings(input.standards, quad)) {
    return no_scale(
        "No length standard: no printed strip is readable, and sheet.json names neither sides_mm with a diagonal nor "
        "size_mm. Print the strips (sheetloupe strips), or measure the four sides and a diagonal.");
  }
  quad.frame = frame_of(input);
  quad.corners_px = *input.corners_px;
  quad.corner_sd_px = std::max(input.corner_u95_px, 0.1) / 1.96;
  set_side_sds(input, quad);
  const FocalPrior focal = focal_prior(input);
  quad.priors.log_f_mean = std::log(focal.px);
  quad.priors.log_f = focal.log_sd;
  add_side_points(input, quad);
  const auto start = start_of(input, quad, focal.px);
  const Fit fit = start ? fit_quad(quad, *start) : Fit{};
  // Where readings and photo disagree, the figure grows with the disagreement (the ratio of Birge 1932, Phys. Rev. 40,
  // 207); three degrees of freedom, see fit_quad. Beyond 4 (chi2 48: a chance of 1e-10) somebody misread; beyond 15 the
  // map would be worth nothing.
  constexpr double kMisread = 4.0, kWorthless = 15.0;
  const double birge = std::sqrt(fit.chi2 / 3.0);
  if (!fit.converged || birge > kWorthless) return no_scale(kDoNotFit);
  Scale scale;
  scale.source = ScaleSource::sides;
  scale.advice = advice_on_camera(input);
  if (quad.square_sd > 0) {
    scale.advice.push_back(
        "The sheet's corners were taken as square. Measure the four sides and a diagonal (sides_mm, diagonals_mm), or "
        "lay printed strips, to be sure.");
  }
  if (birge > kMisread) scale.advice.emplace_back(kDoNotFit);
  scale.map = map_of(fit, quad.frame, input.corners_px);
  scale.position_u95_mm =
      position_u95_mm(fit, quad.frame, *input.corners_px, options.u95_draws, options.seed, std::max(1.0, birge));
  return scale;
}

}  // namespace sheetloupe
