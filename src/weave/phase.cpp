#include "weave/phase.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/median.h"
#include "weave/carrier_fit.h"
#include "weave/demodulate.h"
#include "weave/integrate.h"
#include "weave/node_grid.h"

namespace sheetloupe::weave {
namespace {

// Weighted Gaussian means; far from any weight the nearest means fade in by a second, wide pass.
class Smoother {
 public:
  Smoother(const cv::Mat1f& weight, double sigma) : weight_(weight), sigma_(sigma), sum_(cv::sum(weight)[0]) {
    cv::GaussianBlur(weight, near_, {}, sigma);
    cv::GaussianBlur(weight, wide_, {}, kWide * sigma);
    near_ += kFaint;
    wide_ += kFaint;
  }

  cv::Mat1f operator()(const cv::Mat1f& values) const {
    const cv::Mat1f clean = values.mul(weight_);
    cv::Mat1f near, wide;
    cv::GaussianBlur(clean, near, {}, sigma_);
    cv::GaussianBlur(clean, wide, {}, kWide * sigma_);
    const double all = cv::sum(clean)[0] / std::max(sum_, 1e-9);
    return (near + kFaint * ((wide + kFaint * all) / wide_)) / near_;
  }

 private:
  static constexpr double kWide = 5.0, kFaint = 1e-3;
  cv::Mat1f weight_, near_, wide_;
  double sigma_, sum_;
};

// The seed brought to the node grid.
Fields from_seed(const SeedField& seed, const cv::Size& grid, double node_mm) {
  const Smoother smoothed(seed.weight, 1.0);
  std::vector<cv::Mat1f> planes(4);
  for (int k = 0; k < 4; ++k) {
    planes[k] = cv::Mat1f(seed.weight.size());
    for (int r = 0; r < seed.weight.rows; ++r) {
      for (int c = 0; c < seed.weight.cols; ++c) planes[k](r, c) = static_cast<float>(seed.reciprocal(r, c)[k]);
    }
    planes[k] = smoothed(planes[k]);
  }
  // Node (r, c) in seed-grid units.
  cv::Mat1f map_x(grid), map_y(grid);
  for (int r = 0; r < grid.height; ++r) {
    for (int c = 0; c < grid.width; ++c) {
      map_x(r, c) = static_cast<float>((c + 0.5) * node_mm / seed.step_mm);
      map_y(r, c) = static_cast<float>((r + 0.5) * node_mm / seed.step_mm);
    }
  }
  Fields f;
  for (auto [from, to] :
       {std::pair{&planes[0], &f.sx}, {&planes[1], &f.sy}, {&planes[2], &f.tx}, {&planes[3], &f.ty}}) {
    cv::remap(*from, *to, map_x, map_y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  }
  f.weight = cv::Mat1f(grid, 1.F);
  return f;
}

struct Carrier {
  Index index;
  double noise_share = 1.0;  // tow lines get a third of the noise: they do not see the swap of warp and weft light
  bool tow_line = false;
};

std::vector<Carrier> carriers_of(Hypothesis weave) {
  std::vector<Carrier> list;
  for (const Index& p : weave_peaks(weave)) list.push_back({p, 1.0, false});
  for (const double k : {1.0, 2.0, 3.0}) {
    list.push_back({{k, 0}, 1.0 / 3.0, true});
    list.push_back({{0, k}, 1.0 / 3.0, true});
  }
  return list;
}

double median_where(const cv::Mat1f& values, const cv::Mat1f& seen) {
  std::vector<float> list;
  for (int r = 0; r < values.rows; r += 2) {
    for (int c = 0; c < values.cols; c += 2) {
      if (seen(r, c) > 0.9F) list.push_back(values(r, c));
    }
  }
  if (list.empty()) return 1.0;
  return std::max<double>(median(list), 1e-12);
}

void smooth_all(Fields& f, const cv::Mat1f& weight, double sigma) {
  const Smoother smoothed(weight, sigma);
  const std::array<cv::Mat1f*, 4> all = {&f.sx, &f.sy, &f.tx, &f.ty};
  cv::parallel_for_(cv::Range(0, 4), [&](const cv::Range& some) {
    for (int k = some.start; k < some.end; ++k) *all[k] = smoothed(*all[k]);
  });
}

// The mean of the three strongest carriers over the local noise of empty places.
cv::Mat1f quality_of(const std::vector<cv::Mat1f>& ratios) {
  cv::Mat1f q(ratios[0].size());
  for (int r = 0; r < q.rows; ++r) {
    for (int c = 0; c < q.cols; ++c) {
      std::array<float, 3> best = {0, 0, 0};
      for (const cv::Mat1f& ratio : ratios) {
        const float v = ratio(r, c);
        if (v > best[0])
          best = {v, best[0], best[1]};
        else if (v > best[1])
          best = {best[0], v, best[1]};
        else if (v > best[2])
          best[2] = v;
      }
      q(r, c) = (best[0] + best[1] + best[2]) / 3.F;
    }
  }
  return q;
}

// How far a tow count is off so that the dark gaps between tows fall on whole numbers: the mean phase of its own line
// carrier. cos(2 pi s + phase) is least, the gap, where 2 pi s + phase = pi.
double offset_of(const Carried& line, const cv::Mat1f& seen) {
  const cv::Mat full = seen > 0.9F;
  return std::atan2(cv::mean(line.im, full)[0], cv::mean(line.re, full)[0]) / (2 * CV_PI) - 0.5;
}

// Mean of a - b away from the border, where values between nodes are not known.
double mean_difference(const cv::Mat1f& a, const cv::Mat1f& b, int border) {
  const cv::Rect all({}, a.size()), inner = all & cv::Rect(border, border, a.cols - 2 * border, a.rows - 2 * border);
  const cv::Rect use = inner.empty() ? all : inner;
  return cv::mean(a(use) - b(use))[0];
}

// The picture on some 8 px a tow, filled up with unseen pixels to whole nodes of two blocks.
struct WorkPicture {
  Normalised picture;
  int block = 4;  // px, about half a tow
  cv::Size grid;
  double node_mm = 2.0;
};

WorkPicture work_picture(const Normalised& n, double tow_mm) {
  // 6 to 10 px a tow are enough for directions: more changes the error by less than a tenth.
  constexpr double kTowPx = 8.0, kMostTowPx = 10.0;
  WorkPicture w;
  w.picture = tow_mm / n.mm_per_px > kMostTowPx ? coarser(n, tow_mm / kTowPx) : n;
  w.block = std::clamp(static_cast<int>(0.5 * tow_mm / w.picture.mm_per_px), 1, 4);
  w.node_mm = 2 * w.block * w.picture.mm_per_px;
  const int px = 2 * w.block;
  const cv::Size size = w.picture.z.size();
  w.grid = {(size.width + px - 1) / px, (size.height + px - 1) / px};
  const int right = w.grid.width * px - size.width, below = w.grid.height * px - size.height;
  cv::copyMakeBorder(w.picture.z, w.picture.z, 0, below, 0, right, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::copyMakeBorder(w.picture.seen, w.picture.seen, 0, below, 0, right, cv::BORDER_CONSTANT, cv::Scalar(0));
  return w;
}

// Central differences of a tow count, per mm.
void differences(const cv::Mat1f& p, double node_mm, cv::Mat1f& gx, cv::Mat1f& gy) {
  const float step = static_cast<float>(node_mm);
  for (int r = 0; r < p.rows; ++r) {
    for (int c = 0; c < p.cols; ++c) {
      const int l = std::max(c - 1, 0), q = std::min(c + 1, p.cols - 1), u = std::max(r - 1, 0),
                v = std::min(r + 1, p.rows - 1);
      gx(r, c) = (p(r, q) - p(r, l)) / (static_cast<float>(q - l) * step);
      gy(r, c) = (p(v, c) - p(u, c)) / (static_cast<float>(v - u) * step);
    }
  }
}

// The rounds of refinement; holds what they share.
class Refiner {
 public:
  Refiner(const WorkPicture& work, Hypothesis weave, Fields start)
      : work_(work), weave_(weave), carriers_(carriers_of(weave)), f_(std::move(start)) {
    cv::resize(work.picture.seen, seen_, work.grid, 0, 0, cv::INTER_AREA);
    tow_per_mm_ =
        std::sqrt(1e-6 + std::abs(cv::mean(f_.sx)[0] * cv::mean(f_.ty)[0] - cv::mean(f_.sy)[0] * cv::mean(f_.tx)[0]));
    const double tow_nodes = 1.0 / (tow_per_mm_ * work.node_mm);
    lowpass_ = 0.65 / smallest_spacing(weave) * tow_nodes;
    smooth_ = 2.0 * tow_nodes;
    cv::GaussianBlur(seen_, share_, {}, lowpass_);
    scatter_ = cv::Mat1f(work.grid, 1.F);
    noise_.resize(carriers_.size());
  }

  void round(bool holes, bool last) {
    // Smoothed before integrating: noise above the window would stay in the result uncorrected.
    smooth(0.75);
    cv::Mat1f s, t;
    counts(s, t);
    const std::size_t count = carriers_.size();
    std::vector<Index> places;
    for (const Carrier& c : carriers_) places.push_back(c.index);
    if (holes) {
      for (const Carrier& c : carriers_) places.push_back(empty_place(weave_, c.index));
    }
    const std::vector<Carried> found = demodulate(work_.picture, s, t, work_.block, places, lowpass_);
    std::vector<Reading> readings(count);
    std::vector<cv::Mat1f> ratios(count);
    cv::parallel_for_(cv::Range(0, static_cast<int>(count)), [&](const cv::Range& some) {
      for (int i = some.start; i < some.end; ++i) {
        const cv::Mat1f hole = holes ? found[count + i].power() : cv::Mat1f();
        if (holes) noise_[i] = median_where(hole, seen_) * carriers_[i].noise_share;
        const cv::Mat1f power = found[i].power();
        cv::Mat1f w;
        cv::sqrt(cv::max(power / noise_[i] - 1.0, 0.0), w);
        readings[i] = read_carrier(carriers_[i].index, found[i], w, work_.node_mm, 0.75 * smooth_);
        if (last && !carriers_[i].tow_line) ratios[i] = ratio(power, hole, noise_[i]);
      }
    });
    if (last) {
      std::erase_if(ratios, [](const cv::Mat1f& r) { return r.empty(); });
      quality_ = quality_of(ratios);
    }
    // Integration made the field curl-free; the carriers saw its own differences, so the residuals add to those.
    differences(s, work_.node_mm, f_.sx, f_.sy);
    differences(t, work_.node_mm, f_.tx, f_.ty);
    correct(readings, tow_per_mm_, f_, scatter_);
  }

  PhaseField result(const cv::Size& size, double step_mm) {
    smooth(0.4);
    const auto on_grid = [&](const cv::Mat1f& nodes) { return sampled(nodes, work_.node_mm, size, step_mm); };
    PhaseField field;
    field.step_mm = step_mm;
    const std::array<cv::Mat1f, 4> g = {on_grid(f_.sx), on_grid(f_.sy), on_grid(f_.tx), on_grid(f_.ty)};
    const float step = static_cast<float>(step_mm);
    field.s = integrate(g[0] * step, g[1] * step);
    field.t = integrate(g[2] * step, g[3] * step);
    // Both integrals run from zero mean, over slightly different areas: the one on the nodes is fitted to the picture,
    // the other one to it.
    cv::Mat1f s, t;
    counts(s, t);
    const std::vector<Carried> lines = demodulate(work_.picture, s, t, work_.block, {{1, 0}, {0, 1}}, lowpass_);
    const int border = static_cast<int>(2 * work_.node_mm / step_mm) + 1;
    field.s += static_cast<float>(mean_difference(on_grid(s), field.s, border) + offset_of(lines[0], seen_));
    field.t += static_cast<float>(mean_difference(on_grid(t), field.t, border) + offset_of(lines[1], seen_));
    cv::merge(std::vector<cv::Mat>{g[0], g[1]}, field.grad_s);
    cv::merge(std::vector<cv::Mat>{g[2], g[3]}, field.grad_t);
    field.quality = on_grid(quality_);
    field.scatter = cv::max(on_grid(scatter_), 0.0);
    return field;
  }

 private:
  void smooth(double share) { smooth_all(f_, f_.weight.mul(seen_) + 1e-6F, share * smooth_); }

  void counts(cv::Mat1f& s, cv::Mat1f& t) const {
    const float step = static_cast<float>(work_.node_mm);
    s = integrate(f_.sx * step, f_.sy * step);
    t = integrate(f_.tx * step, f_.ty * step);
  }

  cv::Mat1f ratio(const cv::Mat1f& power, const cv::Mat1f& hole, double noise) const {
    // Beside glare the picture is full of ripples that the median over the face does not know.
    cv::Mat1f beside, out;
    cv::GaussianBlur(hole, beside, {}, smooth_);
    cv::divide(power, cv::max(cv::max(share_.mul(share_), 0.05) * noise, beside), out);
    return out;
  }

  const WorkPicture& work_;
  Hypothesis weave_;
  std::vector<Carrier> carriers_;
  Fields f_;
  double tow_per_mm_ = 0.5, lowpass_ = 1.0, smooth_ = 2.0;  // nodes
  cv::Mat1f seen_, share_;  // share of the low-pass window that is cloth: makes amplitudes at the border comparable
  cv::Mat1f scatter_, quality_;
  std::vector<double> noise_;
};

}  // namespace

PhaseField refine_phase(const Normalised& n, const SeedField& seed, Hypothesis weave, double step_mm) {
  constexpr int kRounds = 3;
  const cv::Vec4d b = cv::mean(seed.reciprocal, seed.weight > 0);
  const WorkPicture work = work_picture(n, 1.0 / std::sqrt(1e-6 + std::abs(b[0] * b[3] - b[1] * b[2])));
  Refiner refiner(work, weave, from_seed(seed, work.grid, work.node_mm));
  // The noise between the peaks is needed to begin with, and for the last word; it changes little in between.
  for (int k = 0; k < kRounds; ++k) refiner.round(k == 0 || k + 1 == kRounds, k + 1 == kRounds);
  const cv::Size size(std::max(1, static_cast<int>(n.z.cols * n.mm_per_px / step_mm)),
                      std::max(1, static_cast<int>(n.z.rows * n.mm_per_px / step_mm)));
  PhaseField field = refiner.result(size, step_mm);
  const cv::Rect covered(0, 0, std::min(n.z.cols, cvRound(size.width * step_mm / n.mm_per_px)),
                         std::min(n.z.rows, cvRound(size.height * step_mm / n.mm_per_px)));
  cv::resize(n.seen(covered), field.seen, size, 0, 0, cv::INTER_AREA);
  return field;
}

}  // namespace sheetloupe::weave
