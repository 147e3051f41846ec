#include "weave/seed.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <vector>

namespace sheetloupe::weave {
namespace {

constexpr double kWindowTows = 8.0;  // a window of 5 loses twill, one of 12 blurs bumps
constexpr double kStepTows = 4.0;    // half a window; what lies between is left to the phase
constexpr double kTowPx = 4.0;       // the peaks followed lie below 1.6 cycles per tow, 2 can be seen

struct Window {
  int size = 0;
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
  // Not padded: a parabola finds a tapered peak to a hundredth of a cycle per tow, and the phase asks for a tenth.
  cv::Mat complex;
  cv::dft(patch.mul(w.taper), complex, cv::DFT_COMPLEX_OUTPUT);
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
  cv::Point node;
  Reciprocal predicted;
  double trust = 0.0;  // weight of the neighbour that predicts
  std::optional<Fit> fit;
};

// Nodes next to fitted ones, each predicted by its strongest neighbour; the poorly predicted wait for a later wave.
std::vector<Visit> next_wave(const SeedField& field, const cv::Mat1b& done) {
  constexpr double kShareOfBest = 0.5;
  std::vector<Visit> wave;
  double best = 0;
  for (int r = 0; r < done.rows; ++r) {
    for (int c = 0; c < done.cols; ++c) {
      if (done(r, c)) continue;
      Visit visit{{c, r}, {}, 0.0, {}};
      for (const cv::Point d : {cv::Point(1, 0), cv::Point(-1, 0), cv::Point(0, 1), cv::Point(0, -1)}) {
        const cv::Point from = visit.node + d;
        if (!cv::Rect({}, done.size()).contains(from) || field.weight(from) <= visit.trust) continue;
        const cv::Vec4d b = field.reciprocal(from);
        visit.predicted = {b[0], b[1], b[2], b[3]};
        visit.trust = field.weight(from);
      }
      if (visit.trust > 0) wave.push_back(visit);
      best = std::max(best, visit.trust);
    }
  }
  std::erase_if(wave, [&](const Visit& v) { return v.trust < kShareOfBest * best; });
  return wave;
}

}  // namespace

SeedField track(const Normalised& picture, const Lattice& lattice, cv::Point start) {
  const double tow_mm = 1.0 / std::sqrt(std::abs(cv::determinant(lattice.reciprocal)));
  const Normalised n = coarser(picture, tow_mm / kTowPx);
  const double tow_px = tow_mm / n.mm_per_px;
  Window w;
  w.size = cv::getOptimalDFTSize(cvRound(kWindowTows * tow_px));
  cv::createHanningWindow(w.taper, {w.size, w.size}, CV_32F);
  SeedField field;
  const int step = std::max(1, cvRound(kStepTows * tow_px));
  field.step_mm = step * n.mm_per_px;
  const cv::Size grid((n.z.cols - 1) / step + 1, (n.z.rows - 1) / step + 1);
  field.reciprocal = cv::Mat4d(grid, cv::Vec4d::all(0));
  field.weight = cv::Mat1f(grid, 0.F);
  const double per_mm = 1.0 / (w.size * n.mm_per_px), spacing = smallest_spacing(lattice.weave);
  std::vector<Index> peaks = weave_peaks(lattice.weave);
  peaks.resize(4);
  for (const Index tow : {Index{1, 0}, Index{0, 1}}) peaks.push_back(tow);
  cv::Mat1b done(grid, static_cast<unsigned char>(0));
  const auto look = [&](Visit& visit) {
    double seen = 0;
    const cv::Mat1f amplitude = power_of(n, w, visit.node * step, &seen);
    if (seen < 0.25) return;
    const Fit fit = fit_window(amplitude, per_mm, peaks, visit.predicted, spacing);
    // A step of 4 tows turns tows by a few degrees at most: a jump of a fifth in frequency is a lost lattice.
    const double jump = cv::norm(fit.reciprocal - visit.predicted) / cv::norm(visit.predicted);
    if (fit.weight >= 0.5 && jump <= 0.2) visit.fit = fit;
  };
  const auto node_of = [&](int px, int nodes) {
    return std::clamp(static_cast<int>(px * picture.mm_per_px / field.step_mm), 0, nodes - 1);
  };
  const cv::Point first(node_of(start.x, grid.width), node_of(start.y, grid.height));
  for (std::vector<Visit> wave = {{first, lattice.reciprocal, 1.0, {}}}; !wave.empty(); wave = next_wave(field, done)) {
    cv::parallel_for_(cv::Range(0, static_cast<int>(wave.size())), [&](const cv::Range& some) {
      for (int i = some.start; i < some.end; ++i) look(wave[i]);
    });
    for (const Visit& visit : wave) {
      done(visit.node) = 1;
      if (!visit.fit) continue;
      const Reciprocal& b = visit.fit->reciprocal;
      field.reciprocal(visit.node) = {b(0, 0), b(0, 1), b(1, 0), b(1, 1)};
      field.weight(visit.node) = static_cast<float>(visit.fit->weight);
    }
  }
  return field;
}

}  // namespace sheetloupe::weave
