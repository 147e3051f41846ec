#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "weave/lattice.h"

namespace sheetloupe::weave {

bool plausible(const Reciprocal& b, const WeaveOptions& options) {
  const double gs = std::sqrt(b(0, 0) * b(0, 0) + b(0, 1) * b(0, 1)),
               gt = std::sqrt(b(1, 0) * b(1, 0) + b(1, 1) * b(1, 1));
  if (gs < 1 / options.max_pitch_mm || gs > 1 / options.min_pitch_mm) return false;
  if (gt < 1 / options.max_pitch_mm || gt > 1 / options.min_pitch_mm) return false;
  if (gs / gt > 1.65 || gt / gs > 1.65) return false;
  const double cross = (b(0, 0) * b(1, 1) - b(0, 1) * b(1, 0)) / (gs * gt);
  return cross > std::cos(18 * CV_PI / 180);  // crossing within 18 degrees of square, right-handed as seen
}

namespace {

constexpr std::array kHypotheses = {Hypothesis::plain, Hypothesis::twill_2x2, Hypothesis::satin_5,
                                    Hypothesis::satin_5_mirrored};

// Power spectrum of a patch with what is needed to read it in cycles per mm.
struct Spectrum {
  cv::Mat1f root;       // fourth root of power above background: tames the range between strong and weak peaks
  double per_mm = 0.0;  // cycles per mm of one bin
  int centre = 0;
};

struct Peak {
  cv::Vec2d frequency;  // cycles per mm
  double weight = 0.0;
};

Spectrum spectrum_of(const cv::Mat& patch, double mm_per_px) {
  const int n = patch.rows, size = cv::getOptimalDFTSize(2 * n);
  cv::Mat window, windowed, padded;
  cv::createHanningWindow(window, patch.size(), CV_32F);
  cv::multiply(patch, window, windowed);
  cv::copyMakeBorder(windowed, padded, 0, size - n, 0, size - n, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::Mat complex;
  cv::dft(padded, complex, cv::DFT_COMPLEX_OUTPUT, n);
  std::vector<cv::Mat> parts;
  cv::split(complex, parts);
  cv::Mat1f power;
  cv::magnitude(parts[0], parts[1], power);
  // Swap quadrants so that frequency 0 lies in the middle.
  const int half = size / 2;
  cv::Mat1f shifted(size, size);
  const cv::Range low(0, size - half), high(size - half, size), first(0, half), second(half, size);
  power(low, low).copyTo(shifted(second, second));
  power(low, high).copyTo(shifted(second, first));
  power(high, low).copyTo(shifted(first, second));
  power(high, high).copyTo(shifted(first, first));
  Spectrum s;
  s.centre = half;
  s.per_mm = 1.0 / (size * mm_per_px);
  cv::Mat background;
  cv::sqrt(shifted, shifted);  // amplitude's root = fourth root of power
  cv::blur(shifted, background, {41, 41});
  s.root = cv::max(shifted - background, 0.0);
  return s;
}

double value_near(const Spectrum& s, cv::Vec2d f) {
  const int c = s.centre + cvRound(f[0] / s.per_mm), r = s.centre + cvRound(f[1] / s.per_mm);
  double best = 0;
  for (int i = std::max(0, r - 1); i <= std::min(s.root.rows - 1, r + 1); ++i) {
    for (int j = std::max(0, c - 1); j <= std::min(s.root.cols - 1, c + 1); ++j)
      best = std::max<double>(best, s.root(i, j));
  }
  return best;
}

double parabola(double a, double b, double c) {
  const double curve = a - 2 * b + c;
  return curve < -1e-9 ? std::clamp(0.5 * (a - c) / curve, -0.5, 0.5) : 0.0;
}

// Local maxima of the upper half plane, strongest first. Weighted by radius: natural pictures fall off with it.
std::vector<Peak> peaks_of(const Spectrum& s, double least_per_mm, double most_per_mm) {
  cv::Mat dilated;
  cv::dilate(s.root, dilated, cv::getStructuringElement(cv::MORPH_ELLIPSE, {9, 9}));
  std::vector<Peak> peaks;
  for (int r = 1; r <= s.centre; ++r) {
    for (int c = 1; c + 1 < s.root.cols; ++c) {
      if (s.root(r, c) <= 0 || s.root(r, c) < dilated.at<float>(r, c)) continue;
      if (r == s.centre && c >= s.centre) continue;
      const double dx = parabola(s.root(r, c - 1), s.root(r, c), s.root(r, c + 1));
      const double dy = parabola(s.root(r - 1, c), s.root(r, c), s.root(r + 1, c));
      const cv::Vec2d f{(c + dx - s.centre) * s.per_mm, (r + dy - s.centre) * s.per_mm};
      const double radius = cv::norm(f);
      if (radius < least_per_mm || radius > most_per_mm) continue;
      peaks.push_back({f, s.root(r, c) * std::sqrt(std::sqrt(radius))});
    }
  }
  std::sort(peaks.begin(), peaks.end(), [](const Peak& a, const Peak& b) { return a.weight > b.weight; });
  if (peaks.size() > 14) peaks.resize(14);
  return peaks;
}

// Energy of high frequencies along a tow count's gradient, beyond the weave peaks: the gaps' own harmonics.
double ray_energy(const Spectrum& s, const cv::Vec2d& gradient, double background) {
  double sum = 0;
  for (const double k : {1.0, 2.0, 3.0}) sum += value_near(s, gradient * k);
  return std::min(2.0, sum / (3 * background + 1e-9) / 3.0);
}

struct ModelPoint {
  Index index;
  double magnitude;
};

// Lattice points within 1.6 cycles per tow, upper half plane.
std::vector<ModelPoint> model_points(Hypothesis weave) {
  std::vector<ModelPoint> points;
  const bool satin = weave == Hypothesis::satin_5 || weave == Hypothesis::satin_5_mirrored;
  const double step = weave == Hypothesis::plain ? 0.5 : satin ? 0.2 : 0.25;
  const int reach = static_cast<int>(std::ceil(1.6 / step));
  for (int i = -reach; i <= reach; ++i) {
    for (int j = 0; j <= reach; ++j) {
      if (j == 0 && i <= 0) continue;
      const Index index{i * step, j * step};
      if (std::hypot(index.a, index.b) > 1.6) continue;
      const double magnitude = model_magnitude(weave, index);
      // The second harmonic of 2/2 twill vanishes in the interlacing itself but not in its light: tows brighten at both
      // ends of a float. Such a peak speaks neither for nor against.
      const bool silent = weave == Hypothesis::twill_2x2 && std::abs(std::remainder(index.a - 0.5, 1.0)) < 1e-6 &&
                          std::abs(std::remainder(index.b - 0.5, 1.0)) < 1e-6;
      if (magnitude > 1e-3 || silent) points.push_back({index, silent ? 0.0 : std::sqrt(magnitude)});
    }
  }
  return points;
}

cv::Vec2d frequency_at(const Reciprocal& b, Index index) {
  return {index.a * b(0, 0) + index.b * b(1, 0), index.a * b(0, 1) + index.b * b(1, 1)};
}

double score(const Spectrum& s, const std::vector<Peak>& peaks, const std::vector<ModelPoint>& points,
             const Reciprocal& b, double background) {
  double dot = 0, model = 0, seen = 0;
  for (const ModelPoint& p : points) {
    if (p.magnitude <= 0) continue;
    const double v = value_near(s, frequency_at(b, p.index));
    dot += v * p.magnitude;
    model += p.magnitude * p.magnitude;
    seen += v * v;
  }
  // Strong peaks that the lattice does not explain speak against it, twice.
  for (const Peak& peak : peaks) {
    double nearest = 1e9;
    for (const ModelPoint& p : points) {
      const cv::Vec2d f = frequency_at(b, p.index);
      nearest = std::min({nearest, cv::norm(f - peak.frequency), cv::norm(f + peak.frequency)});
    }
    if (nearest < 2.5 * s.per_mm) continue;
    const cv::Vec2d in_tows = cv::Vec2d((b.t().inv() * peak.frequency));
    if (cv::norm(in_tows) > 1.6) continue;
    const double v = value_near(s, peak.frequency);
    seen += 2 * v * v;
  }
  const cv::Vec2d gs{b(0, 0), b(0, 1)}, gt{b(1, 0), b(1, 1)};
  return dot / std::sqrt(model * seen + 1e-12) + 0.15 * (ray_energy(s, gs, background) + ray_energy(s, gt, background));
}

// A few rounds of least squares on the peaks the lattice explains.
Reciprocal polished(const std::vector<Peak>& peaks, const std::vector<ModelPoint>& points, Reciprocal b, double bin) {
  for (int round = 0; round < 3; ++round) {
    cv::Matx22d normal = cv::Matx22d::zeros(), right = cv::Matx22d::zeros();
    for (const Peak& peak : peaks) {
      double nearest = 2.5 * bin;
      Index best;
      cv::Vec2d f = peak.frequency;
      for (const ModelPoint& p : points) {
        for (const double sign : {1.0, -1.0}) {
          const double miss = cv::norm(frequency_at(b, p.index) * sign - peak.frequency);
          if (miss < nearest) nearest = miss, best = p.index, f = peak.frequency * sign;
        }
      }
      if (best.a == 0 && best.b == 0) continue;
      const cv::Vec2d m{best.a, best.b};
      normal += peak.weight * (m * m.t());
      right += peak.weight * (m * f.t());
    }
    if (std::abs(cv::determinant(normal)) < 1e-9) return b;
    b = normal.inv() * right;
  }
  return b;
}

Lattice best_of(Hypothesis weave, const Spectrum& s, const std::vector<Peak>& peaks, double background,
                const WeaveOptions& options) {
  const std::vector<ModelPoint> points = model_points(weave);
  std::vector<Index> low = weave_peaks(weave);
  low.resize(3);
  low.push_back({1, 0});
  low.push_back({0, 1});
  Lattice best{weave, {}, -1.0, 0.0};
  const std::size_t strong = std::min<std::size_t>(peaks.size(), 8);
  for (std::size_t p = 0; p < strong; ++p) {
    for (std::size_t q = 0; q < strong; ++q) {
      if (p == q) continue;
      for (const double sign : {1.0, -1.0}) {
        const cv::Matx22d f(peaks[p].frequency[0], peaks[p].frequency[1], sign * peaks[q].frequency[0],
                            sign * peaks[q].frequency[1]);
        for (std::size_t i = 0; i < low.size(); ++i) {
          for (std::size_t j = 0; j < low.size(); ++j) {
            const cv::Matx22d m(low[i].a, low[i].b, low[j].a, low[j].b);
            if (i == j || std::abs(cv::determinant(m)) < 0.05) continue;
            const Reciprocal b = m.inv() * f;
            if (!plausible(b, options)) continue;
            const double value = score(s, peaks, points, b, background);
            if (value > best.score) best.score = value, best.reciprocal = b;
          }
        }
      }
    }
  }
  if (best.score > 0) {
    const Reciprocal b = polished(peaks, points, best.reciprocal, s.per_mm);
    if (plausible(b, options)) best.reciprocal = b;
    best.score = score(s, peaks, points, best.reciprocal, background);
  }
  return best;
}

}  // namespace

std::optional<Lattice> identify(const cv::Mat& patch, double mm_per_px, const WeaveOptions& options) {
  const Spectrum s = spectrum_of(patch, mm_per_px);
  const std::vector<Peak> peaks =
      peaks_of(s, 0.15 / options.max_pitch_mm, std::min(0.45 / mm_per_px, 1.8 / options.min_pitch_mm));
  if (peaks.size() < 3) return {};
  cv::Scalar mean, sd;
  cv::meanStdDev(s.root, mean, sd);
  std::array<Lattice, 4> found;
  for (std::size_t i = 0; i < kHypotheses.size(); ++i)
    found[i] = best_of(kHypotheses[i], s, peaks, mean[0] + 2 * sd[0], options);
  const auto best = std::max_element(found.begin(), found.end(),
                                     [](const Lattice& a, const Lattice& b) { return a.score < b.score; });
  if (best->score <= 0) return {};
  best->margin = best->score;
  for (const Lattice& other : found) {
    if (pattern_of(other.weave) != pattern_of(best->weave))
      best->margin = std::min(best->margin, best->score - other.score);
  }
  return *best;
}

}  // namespace sheetloupe::weave
