#include "scale/start.h"

#include <algorithm>
#include <cmath>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/median.h"

namespace sheetloupe::scale {
namespace {

// One of the two poses that a planar target allows.
struct Pose {
  int strip = 0;
  cv::Vec3d normal;  // of the strip's plane, pointing away from the camera, camera frame
  cv::Vec3d centre;  // of the strip, camera frame, mm
};

cv::Point2d as_designed(const Observation& o) { return {o.centre_along + 10.0 * o.sx, 10.0 * o.sy}; }

// A misread or swapped id throws its marker out of line with the strip's others: most of a strip's corners follow one
// plane-to-plane map, to the few pixels that lens and bowed paper make. Markers that do not are not used.
void drop_strangers(BundleInput& input, int strip) {
  std::vector<cv::Point2d> object, image;
  std::vector<Observation*> seen;
  for (Observation& o : input.observations) {
    if (o.strip != strip) continue;
    object.push_back(as_designed(o));
    image.emplace_back(o.seen.x, o.seen.y);
    seen.push_back(&o);
  }
  if (seen.size() < 12) return;  // of two markers nobody can say which is wrong
  // A fifth of a marker's side: lens and paper stay well below, the next marker is two and a half sides away.
  const double allowed =
      0.2 * std::sqrt(cv::contourArea(std::vector<cv::Point2f>{image[0], image[1], image[2], image[3]}));
  std::vector<unsigned char> fits;
  cv::findHomography(object, image, cv::RANSAC, std::max(allowed, 3.0), fits, 2000, 0.999);
  if (fits.size() != seen.size()) return;
  if (std::count(fits.begin(), fits.end(), 1) < 8) return;  // no two markers agree
  for (std::size_t i = 0; i + 3 < seen.size(); i += 4) {
    const bool stranger = fits[i] + fits[i + 1] + fits[i + 2] + fits[i + 3] < 3;
    for (std::size_t j = i; j < i + 4; ++j) seen[j]->used = !stranger;
  }
}

std::vector<Pose> poses_of_strip(const BundleInput& input, int strip, double focal_px) {
  std::vector<cv::Point3d> object;
  std::vector<cv::Point2d> image;
  for (const Observation& o : input.observations) {
    if (o.strip != strip || !o.used) continue;
    object.emplace_back(as_designed(o).x, as_designed(o).y, 0.0);
    image.emplace_back(o.seen.x - input.frame.centre_x, o.seen.y - input.frame.centre_y);
  }
  if (object.size() < 4) return {};
  const cv::Matx33d intrinsics(focal_px, 0, 0, 0, focal_px, 0, 0, 0, 1);
  std::vector<cv::Mat> rotations, shifts;
  try {
    cv::solvePnPGeneric(object, image, intrinsics, cv::noArray(), rotations, shifts, false, cv::SOLVEPNP_IPPE);
  } catch (const cv::Exception&) {
    return {};  // degenerate corners: this strip gives no pose
  }
  std::vector<Pose> poses;
  for (std::size_t i = 0; i < rotations.size(); ++i) {
    cv::Matx33d r;
    cv::Rodrigues(rotations[i], r);
    Pose pose{strip, {r(0, 2), r(1, 2), r(2, 2)}, cv::Vec3d(shifts[i])};
    if (pose.centre[2] <= 0) continue;
    if (pose.normal[2] < 0) pose.normal = -pose.normal;
    poses.push_back(pose);
  }
  return poses;
}

double angle_between(const cv::Vec3d& a, const cv::Vec3d& b) {
  return std::acos(std::clamp(a.dot(b) / (cv::norm(a) * cv::norm(b)), -1.0, 1.0));
}

// The plane normal that the strips agree on: each candidate is judged by the median, over the strips, of the nearer of
// their two solutions.
cv::Vec3d common_normal(const std::vector<std::vector<Pose>>& by_strip) {
  cv::Vec3d best(0, 0, 1);
  double best_cost = 1e9;
  for (const auto& poses : by_strip) {
    for (const Pose& candidate : poses) {
      std::vector<double> misses;
      for (const auto& others : by_strip) {
        double nearest = 1e9;
        for (const Pose& other : others) nearest = std::min(nearest, angle_between(candidate.normal, other.normal));
        misses.push_back(nearest);
      }
      std::sort(misses.begin(), misses.end());
      // Two strips often agree twice; the flatter view is then the likelier photo.
      const double cost = misses[misses.size() / 2] + 0.02 * angle_between(candidate.normal, {0, 0, 1});
      if (cost < best_cost) {
        best_cost = cost;
        best = candidate.normal;
      }
    }
  }
  return best / cv::norm(best);
}

// Closed-form rotation and shift of the strip's corners on the table.
void place_strip(const BundleInput& input, int strip, Unknowns& u) {
  cv::Vec2d a{}, b{};
  double n = 0, dot = 0, cross = 0;
  std::vector<std::pair<cv::Vec2d, cv::Vec2d>> pairs;
  for (const Observation& o : input.observations) {
    if (o.strip != strip || !o.used) continue;
    const auto p = back_project(u.camera.data(), input.frame, o.seen.x, o.seen.y, input.strip_height_mm);
    pairs.push_back({cv::Vec2d(as_designed(o).x, as_designed(o).y), {p.x, p.y}});
    a += pairs.back().first;
    b += pairs.back().second;
    n += 1;
  }
  a /= n;
  b /= n;
  for (const auto& [p, q] : pairs) {
    const cv::Vec2d x = p - a, y = q - b;
    dot += x.dot(y);
    cross += x[0] * y[1] - x[1] * y[0];
  }
  const double theta = std::atan2(cross, dot), c = std::cos(theta), s = std::sin(theta);
  u.strip[strip] = {b[0] - c * a[0] + s * a[1], b[1] - s * a[0] - c * a[1], theta, input.priors.height_mean_mm, 0.0,
                    input.priors.bow_mean_mm};
}

}  // namespace

std::optional<Unknowns> guess(BundleInput& input, double focal_px) {
  std::vector<std::vector<Pose>> by_strip;
  Unknowns u;
  for (int k = 0; k < kStripCount; ++k) {
    drop_strangers(input, k);
    auto poses = poses_of_strip(input, k, focal_px);
    if (poses.empty()) continue;
    u.strips.push_back(k);
    by_strip.push_back(std::move(poses));
  }
  if (by_strip.empty()) return {};
  const cv::Vec3d n = common_normal(by_strip);
  std::vector<double> heights;
  for (const auto& poses : by_strip) {
    const auto nearest = std::min_element(poses.begin(), poses.end(), [&](const Pose& a, const Pose& b) {
      return angle_between(a.normal, n) < angle_between(b.normal, n);
    });
    heights.push_back(nearest->centre.dot(n));
  }
  u.camera[kBeta] = std::asin(std::clamp(n[0], -1.0, 1.0));
  u.camera[kAlpha] = std::atan2(-n[1], n[2]);
  u.camera[kLogF] = std::log(focal_px);
  u.camera[kLogM] = std::log(focal_px / (median(heights) + input.strip_height_mm));
  u.print[kLogPrint] = input.priors.log_print_mean;
  u.thickness = input.priors.thickness_mean;
  for (const int k : u.strips) place_strip(input, k, u);
  return u;
}

}  // namespace sheetloupe::scale
