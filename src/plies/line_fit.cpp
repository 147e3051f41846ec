#include "plies/line_fit.h"

#include <algorithm>
#include <cmath>

#include "sheetloupe/median.h"

namespace sheetloupe::plies {
namespace {

// Second order about a straight start, with weights that fall to nothing at 4.7 scatters (Tukey's biweight).
cv::Vec3d robust_curve(const std::vector<cv::Point2d>& places, const StraightLine& start, double middle, double half) {
  cv::Vec3d fit(start.at(middle), start.slope * half, 0);
  const auto basis = [&](double x) {
    const double t = (x - middle) / half;
    return cv::Vec3d(1, t, t * t);
  };
  for (int pass = 0; pass < 10; ++pass) {
    std::vector<double> off;
    for (const auto& p : places) off.push_back(std::abs(p.y - fit.dot(basis(p.x))));
    // Faces are rough by 2 px at most; what scatters more is two lines at once, of which the fuller shall win.
    const double scatter = 1.4826 * median(off);
    const double limit = 4.7 * std::max(0.4, pass < 2 ? scatter : std::min(scatter, 2.0));
    cv::Matx33d normal = cv::Matx33d::zeros();
    cv::Vec3d right(0, 0, 0);
    for (std::size_t i = 0; i < places.size(); ++i) {
      const double r = off[i] / limit, w = r < 1 ? std::pow(1 - r * r, 2) : 0;
      const cv::Vec3d b = basis(places[i].x);
      normal += w * (b * b.t());
      right += w * places[i].y * b;
    }
    cv::Vec3d next;
    if (!cv::solve(normal, right, next, cv::DECOMP_CHOLESKY)) break;
    fit = next;
  }
  return fit;
}

}  // namespace

StraightLine theil_sen(const std::vector<cv::Point2d>& places) {
  StraightLine line;
  std::vector<double> slopes, offsets;
  const std::size_t n = places.size(), step = std::max<std::size_t>(1, n / 120);
  for (std::size_t i = 0; i < n; i += step) {
    for (std::size_t j = i + step; j < n; j += step) {
      if (places[j].x != places[i].x) slopes.push_back((places[j].y - places[i].y) / (places[j].x - places[i].x));
    }
  }
  line.slope = median(slopes);
  for (const auto& p : places) offsets.push_back(p.y - line.slope * p.x);
  line.offset = median(offsets);
  return line;
}

std::vector<cv::Point2d> sampled(const FaceLine& line) {
  std::vector<cv::Point2d> places;
  for (std::size_t i = 0; i < line.y.size(); ++i)
    places.emplace_back(line.first_x + static_cast<double>(i) * line.step, line.y[i]);
  return places;
}

void fit_face_line(const std::vector<cv::Point2d>& places, int blocks, FaceLine& line) {
  const double half = std::max(1.0, 0.5 * line.step * (blocks - 1)), middle = line.first_x + half;
  const cv::Vec3d curve = robust_curve(places, theil_sen(places), middle, half);
  const auto on_curve = [&](double x) {
    const double t = (x - middle) / half;
    return curve[0] + curve[1] * t + curve[2] * t * t;
  };
  std::vector<double> off;
  for (const auto& p : places) off.push_back(std::abs(p.y - on_curve(p.x)));
  const double limit = std::clamp(3.5 * 1.4826 * median(off), 2.5, 7.0);
  double square = 0;
  int kept = 0;
  line.y.assign(blocks, 0.0);
  std::vector<double> sum(blocks, 0.0), weight(blocks, 0.0);
  for (std::size_t i = 0; i < places.size(); ++i) {
    if (off[i] > limit) continue;
    const double d = places[i].y - on_curve(places[i].x);
    square += d * d;
    ++kept;
    // Faces roll over a tow or two: places within two blocks share what they see.
    const int b = std::clamp(cvRound((places[i].x - line.first_x) / line.step), 0, blocks - 1);
    for (int k = std::max(0, b - 3); k <= std::min(blocks - 1, b + 3); ++k) {
      const double w = std::exp(-0.5 * std::pow((k - b) / 1.2, 2));
      sum[k] += w * d;
      weight[k] += w;
    }
  }
  for (int k = 0; k < blocks; ++k)
    line.y[k] = on_curve(line.first_x + k * line.step) + (weight[k] > 0.3 ? sum[k] / weight[k] : 0.0);
  line.cover = static_cast<double>(kept) / blocks;
  line.rms_px = kept ? std::sqrt(square / kept) : 1e3;
}

}  // namespace sheetloupe::plies
