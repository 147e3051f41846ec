#include "weave/seed.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <queue>

namespace sheetloupe::weave {
namespace {

constexpr double kWindowTows = 8.0;  // a window of 5 loses twill, one of 12 blurs bumps
constexpr double kStepTows = 2.5;

struct Window {
  int size = 0, dft = 0;
  cv::Mat1f taper;
};

cv::Mat1f power_of(const Normalised& n, const Window& w, cv::Point centre, double* seen_share) {
  cv::Mat1f patch(w.size, w.size, 0.F);
  const cv::Rect wanted(centre.x - w.size / 2, centre.y - w.size / 2, w.size, w.size);
  const cv::Rect inside = wanted & cv::Rect(0, 0, n.z.cols, n.z.rows);
  *seen_share = 0;
  if (inside.area() <= 0) return {};
  n.z(inside).copyTo(patch(inside - wanted.tl()));
  *seen_share = cv::sum(n.seen(inside))[0] / wanted.area();
  cv::Mat padded = cv::Mat::zeros(w.dft, w.dft, CV_32F), complex;
  cv::Mat corner = padded(cv::Rect(0, 0, w.size, w.size));
  cv::multiply(patch, w.taper, corner);
  cv::dft(padded, complex, cv::DFT_COMPLEX_OUTPUT, w.size);
  std::vector<cv::Mat> parts;
  cv::split(complex, parts);
  cv::Mat1f amplitude;
  cv::magnitude(parts[0], parts[1], amplitude);
  return amplitude;
}

struct Found {
  cv::Vec2d frequency;
  double amplitude = 0.0;
};

// The strongest bin within `reach` of a predicted frequency, to a fraction of a bin.
Found peak_near(const cv::Mat1f& amplitude, double per_mm, cv::Vec2d predicted, double reach) {
  const int n = amplitude.rows, k = std::max(1, static_cast<int>(reach / per_mm));
  const int c0 = cvRound(predicted[0] / per_mm), r0 = cvRound(predicted[1] / per_mm);
  const auto at = [&](int r, int c) { return amplitude(((r % n) + n) % n, ((c % n) + n) % n); };
  int best_r = r0, best_c = c0;
  for (int r = r0 - k; r <= r0 + k; ++r) {
    for (int c = c0 - k; c <= c0 + k; ++c) {
      if ((r - r0) * (r - r0) + (c - c0) * (c - c0) <= k * k && at(r, c) > at(best_r, best_c)) best_r = r, best_c = c;
    }
  }
  const auto refine = [](double a, double b, double c) {
    const double curve = a - 2 * b + c;
    return curve < -1e-9 ? std::clamp(0.5 * (a - c) / curve, -0.5, 0.5) : 0.0;
  };
  const double dx = refine(at(best_r, best_c - 1), at(best_r, best_c), at(best_r, best_c + 1));
  const double dy = refine(at(best_r - 1, best_c), at(best_r, best_c), at(best_r + 1, best_c));
  return {{(best_c + dx) * per_mm, (best_r + dy) * per_mm}, at(best_r, best_c)};
}

struct Fit {
  Reciprocal reciprocal;
  double weight = 0.0;
};

// Least squares on the peaks near their predicted places, one robust repeat.
Fit fit_window(const cv::Mat1f& amplitude, double per_mm, const std::vector<Index>& peaks, const Reciprocal& predicted,
               double spacing) {
  const double tow = std::sqrt(std::abs(cv::determinant(predicted)));  // cycles per mm of one per tow
  std::vector<Found> found;
  for (const Index& p : peaks) {
    const cv::Vec2d f{p.a * predicted(0, 0) + p.b * predicted(1, 0), p.a * predicted(0, 1) + p.b * predicted(1, 1)};
    found.push_back(peak_near(amplitude, per_mm, f, 0.4 * spacing * tow));
  }
  const double floor = cv::mean(amplitude)[0];
  Fit fit{predicted, 0.0};
  std::vector<double> trust(peaks.size(), 1.0);
  for (int round = 0; round < 2; ++round) {
    cv::Matx22d normal = cv::Matx22d::eye() * 1e-6, right = 1e-6 * predicted;
    double total = 0;
    for (std::size_t i = 0; i < peaks.size(); ++i) {
      const double w = trust[i] * std::max(0.0, found[i].amplitude / floor - 3.0);  // noise peaks reach about 3
      const cv::Vec2d m{peaks[i].a, peaks[i].b};
      normal += w * (m * m.t());
      right += w * (m * found[i].frequency.t());
      total += w;
    }
    fit.reciprocal = normal.inv() * right;
    fit.weight = total / static_cast<double>(peaks.size());
    for (std::size_t i = 0; i < peaks.size(); ++i) {
      const cv::Vec2d f{peaks[i].a * fit.reciprocal(0, 0) + peaks[i].b * fit.reciprocal(1, 0),
                        peaks[i].a * fit.reciprocal(0, 1) + peaks[i].b * fit.reciprocal(1, 1)};
      const double miss = cv::norm(f - found[i].frequency) / (0.04 * tow);
      trust[i] = 1.0 / (1.0 + miss * miss);
    }
  }
  return fit;
}

struct Visit {
  double weight;
  cv::Point node;
  bool operator<(const Visit& other) const { return weight < other.weight; }
};

}  // namespace

SeedField track(const Normalised& n, const Lattice& lattice, cv::Point start) {
  const double tow_px = 1.0 / std::sqrt(std::abs(cv::determinant(lattice.reciprocal))) / n.mm_per_px;
  Window w;
  w.size = cv::getOptimalDFTSize(cvRound(kWindowTows * tow_px));
  w.dft = cv::getOptimalDFTSize(2 * w.size);
  cv::createHanningWindow(w.taper, {w.size, w.size}, CV_32F);
  SeedField field;
  field.step = std::max(1, cvRound(kStepTows * tow_px));
  const cv::Size grid((n.z.cols - 1) / field.step + 1, (n.z.rows - 1) / field.step + 1);
  field.first = 0;
  field.reciprocal = cv::Mat4d(grid, cv::Vec4d::all(0));
  field.weight = cv::Mat1f(grid, 0.F);
  const double per_mm = 1.0 / (w.dft * n.mm_per_px), spacing = smallest_spacing(lattice.weave);
  std::vector<Index> peaks = weave_peaks(lattice.weave);
  peaks.resize(4);
  for (const Index tow : {Index{1, 0}, Index{0, 1}}) peaks.push_back(tow);
  cv::Mat1b done(grid, static_cast<unsigned char>(0));
  std::priority_queue<Visit> queue;
  const auto visit = [&](cv::Point node, const Reciprocal& predicted) {
    done(node) = 1;
    double seen = 0;
    const cv::Mat1f amplitude = power_of(n, w, node * field.step, &seen);
    if (seen < 0.25) return;
    const Fit fit = fit_window(amplitude, per_mm, peaks, predicted, spacing);
    // A step of 2.5 tows turns tows by a few degrees at most: a jump of a fifth in frequency is a lost lattice.
    const double jump = cv::norm(fit.reciprocal - predicted) / cv::norm(predicted);
    if (fit.weight < 0.5 || jump > 0.2) return;
    field.reciprocal(node) = {fit.reciprocal(0, 0), fit.reciprocal(0, 1), fit.reciprocal(1, 0), fit.reciprocal(1, 1)};
    field.weight(node) = static_cast<float>(fit.weight);
    queue.push({fit.weight, node});
  };
  visit({std::clamp(start.x / field.step, 0, grid.width - 1), std::clamp(start.y / field.step, 0, grid.height - 1)},
        lattice.reciprocal);
  while (!queue.empty()) {
    const cv::Point node = queue.top().node;
    queue.pop();
    const cv::Vec4d b = field.reciprocal(node);
    for (const cv::Point d : {cv::Point(1, 0), cv::Point(-1, 0), cv::Point(0, 1), cv::Point(0, -1)}) {
      const cv::Point next = node + d;
      if (!cv::Rect({}, grid).contains(next) || done(next)) continue;
      visit(next, {b[0], b[1], b[2], b[3]});
    }
  }
  return field;
}

}  // namespace sheetloupe::weave
