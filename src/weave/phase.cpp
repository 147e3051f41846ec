#include "weave/phase.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <opencv2/imgproc.hpp>

#include "weave/demodulate.h"

namespace sheetloupe::weave {
namespace {

constexpr int kRounds = 3;

// Solves laplace(p) = div(g) with free borders by cosine transforms (Ghiglia and Romero 1994), unit spacing. Sizes are
// padded to even numbers, as the transform asks.
cv::Mat1f integrate(const cv::Mat1f& gx, const cv::Mat1f& gy) {
  const int rows = gx.rows + gx.rows % 2, cols = gx.cols + gx.cols % 2;
  cv::Mat1f ex, ey;
  cv::copyMakeBorder(gx, ex, 0, rows - gx.rows, 0, cols - gx.cols, cv::BORDER_REPLICATE);
  cv::copyMakeBorder(gy, ey, 0, rows - gx.rows, 0, cols - gx.cols, cv::BORDER_REPLICATE);
  // Differences between neighbours from the mean of their gradients.
  cv::Mat1d divergence(rows, cols, 0.0);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c + 1 < cols; ++c) {
      const double d = 0.5 * (ex(r, c) + ex(r, c + 1));
      divergence(r, c) += d;
      divergence(r, c + 1) -= d;
    }
  }
  for (int r = 0; r + 1 < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const double d = 0.5 * (ey(r, c) + ey(r + 1, c));
      divergence(r, c) += d;
      divergence(r + 1, c) -= d;
    }
  }
  cv::Mat1d spectrum, p;
  cv::dct(divergence, spectrum);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const double k = 2 * std::cos(CV_PI * r / rows) + 2 * std::cos(CV_PI * c / cols) - 4;
      spectrum(r, c) = r + c == 0 ? 0.0 : spectrum(r, c) / k;
    }
  }
  cv::dct(spectrum, p, cv::DCT_INVERSE);
  cv::Mat1f out;
  p(cv::Rect(0, 0, gx.cols, gx.rows)).convertTo(out, CV_32F);
  return out;
}

// Weighted Gaussian mean; far from any weight the nearest means fade in by a second, wide pass.
cv::Mat1f smoothed(const cv::Mat1f& values, const cv::Mat1f& weight, double sigma) {
  const cv::Mat1f clean = values.mul(weight);
  cv::Mat1f sum, total, wide_sum, wide_total;
  cv::GaussianBlur(clean, sum, {}, sigma);
  cv::GaussianBlur(weight, total, {}, sigma);
  cv::GaussianBlur(clean, wide_sum, {}, 5 * sigma);
  cv::GaussianBlur(weight, wide_total, {}, 5 * sigma);
  const double all = cv::sum(clean)[0] / std::max(cv::sum(weight)[0], 1e-9);
  constexpr float kFaint = 1e-3F;
  cv::Mat1f mean(values.size());
  for (int r = 0; r < values.rows; ++r) {
    for (int c = 0; c < values.cols; ++c) {
      const float wide = (wide_sum(r, c) + kFaint * static_cast<float>(all)) / (wide_total(r, c) + kFaint);
      mean(r, c) = (sum(r, c) + kFaint * wide) / (total(r, c) + kFaint);
    }
  }
  return mean;
}

struct Fields {
  cv::Mat1f sx, sy, tx, ty;  // gradients, cycles per mm
  cv::Mat1f weight;
};

// The seed brought to the node grid.
Fields from_seed(const Normalised& n, const SeedField& seed, const cv::Size& grid, int block) {
  std::vector<cv::Mat1f> planes(4);
  for (int k = 0; k < 4; ++k) {
    planes[k] = cv::Mat1f(seed.weight.size());
    for (int r = 0; r < seed.weight.rows; ++r) {
      for (int c = 0; c < seed.weight.cols; ++c) planes[k](r, c) = static_cast<float>(seed.reciprocal(r, c)[k]);
    }
    planes[k] = smoothed(planes[k], seed.weight, 1.0);
  }
  // Node (r, c) in seed-grid units.
  cv::Mat1f map_x(grid), map_y(grid);
  for (int r = 0; r < grid.height; ++r) {
    for (int c = 0; c < grid.width; ++c) {
      map_x(r, c) = static_cast<float>(((c + 0.5) * block - 0.5) / seed.step);
      map_y(r, c) = static_cast<float>(((r + 0.5) * block - 0.5) / seed.step);
    }
  }
  Fields f;
  for (auto [from, to] :
       {std::pair{&planes[0], &f.sx}, {&planes[1], &f.sy}, {&planes[2], &f.tx}, {&planes[3], &f.ty}}) {
    cv::remap(*from, *to, map_x, map_y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  }
  f.weight = cv::Mat1f(grid, 1.F);
  (void)n;
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

cv::Mat1f power_of(const cv::Mat2f& d) {
  cv::Mat1f p(d.size());
  for (int r = 0; r < d.rows; ++r) {
    for (int c = 0; c < d.cols; ++c) p(r, c) = d(r, c)[0] * d(r, c)[0] + d(r, c)[1] * d(r, c)[1];
  }
  return p;
}

double median_where(const cv::Mat1f& values, const cv::Mat1f& seen) {
  std::vector<float> list;
  for (int r = 0; r < values.rows; r += 2) {
    for (int c = 0; c < values.cols; c += 2) {
      if (seen(r, c) > 0.9F) list.push_back(values(r, c));
    }
  }
  if (list.empty()) return 1.0;
  std::nth_element(list.begin(), list.begin() + static_cast<std::ptrdiff_t>(list.size() / 2), list.end());
  return std::max<double>(list[list.size() / 2], 1e-12);
}

// Residual frequency of a demodulated carrier, cycles per mm, from the phase step between neighbours averaged over
// `sigma` nodes; no unwrapping is needed, since the step is small.
cv::Mat2f residual_frequency(const cv::Mat2f& d, double node_mm, double sigma) {
  cv::Mat2f gx(d.size(), cv::Vec2f(0, 0)), gy(d.size(), cv::Vec2f(0, 0));
  const auto step = [](cv::Vec2f b, cv::Vec2f a) {
    return cv::Vec2f(b[0] * a[0] + b[1] * a[1], b[1] * a[0] - b[0] * a[1]);
  };
  for (int r = 0; r < d.rows; ++r) {
    for (int c = 0; c < d.cols; ++c) {
      gx(r, c) = step(d(r, std::min(c + 1, d.cols - 1)), d(r, std::max(c - 1, 0)));
      gy(r, c) = step(d(std::min(r + 1, d.rows - 1), c), d(std::max(r - 1, 0), c));
    }
  }
  cv::GaussianBlur(gx, gx, {}, sigma);
  cv::GaussianBlur(gy, gy, {}, sigma);
  cv::Mat2f f(d.size());
  for (int r = 0; r < d.rows; ++r) {
    for (int c = 0; c < d.cols; ++c) {
      const double wx = (c > 0 && c + 1 < d.cols) ? 2 : 1, wy = (r > 0 && r + 1 < d.rows) ? 2 : 1;
      f(r, c) = {static_cast<float>(std::atan2(gx(r, c)[1], gx(r, c)[0]) / (2 * CV_PI * node_mm * wx)),
                 static_cast<float>(std::atan2(gy(r, c)[1], gy(r, c)[0]) / (2 * CV_PI * node_mm * wy))};
    }
  }
  return f;
}

struct Reading {
  Index index;
  cv::Mat2f residual;  // cycles per mm
  cv::Mat1f weight;
};

// Weighted least squares of all carriers' residuals at one node, one robust repeat.
void correct_row(const std::vector<Reading>& readings, double tow_per_mm, int r, Fields& f, cv::Mat1f& scatter) {
  std::vector<double> trust(readings.size());
  for (int c = 0; c < f.sx.cols; ++c) {
    cv::Vec2d ds(0, 0), dt(0, 0);
    std::fill(trust.begin(), trust.end(), 1.0);
    double total = 0, miss2 = 0;
    for (int round = 0; round < 2; ++round) {
      double aa = 1e-9, ab = 0, bb = 1e-9;
      cv::Vec2d ra(0, 0), rb(0, 0);
      total = miss2 = 0;
      for (std::size_t i = 0; i < readings.size(); ++i) {
        const double w = trust[i] * readings[i].weight(r, c), a = readings[i].index.a, b = readings[i].index.b;
        const cv::Vec2d v = readings[i].residual(r, c);
        aa += w * a * a;
        ab += w * a * b;
        bb += w * b * b;
        ra += w * a * v;
        rb += w * b * v;
      }
      const double det = aa * bb - ab * ab;
      if (det < 1e-14) break;
      ds = (bb * ra - ab * rb) / det;
      dt = (aa * rb - ab * ra) / det;
      for (std::size_t i = 0; i < readings.size(); ++i) {
        const cv::Vec2d v = readings[i].residual(r, c);
        const double miss = cv::norm(v - readings[i].index.a * ds - readings[i].index.b * dt) / tow_per_mm;
        const double w = trust[i] * readings[i].weight(r, c);
        total += w;
        miss2 += w * miss * miss;
        trust[i] = 1.0 / (1.0 + (miss / 0.02) * (miss / 0.02));
      }
    }
    // A correction beyond a fifth of the frequency is noise, not cloth.
    const double limit = 0.2 * tow_per_mm;
    if (cv::norm(ds) < limit && cv::norm(dt) < limit) {
      f.sx(r, c) += static_cast<float>(ds[0]);
      f.sy(r, c) += static_cast<float>(ds[1]);
      f.tx(r, c) += static_cast<float>(dt[0]);
      f.ty(r, c) += static_cast<float>(dt[1]);
    }
    scatter(r, c) = static_cast<float>(total > 1e-9 ? std::sqrt(miss2 / total) : 1.0);
    f.weight(r, c) = static_cast<float>(total);
  }
}

void correct(const std::vector<Reading>& readings, double tow_per_mm, Fields& f, cv::Mat1f& scatter) {
  cv::parallel_for_(cv::Range(0, f.sx.rows), [&](const cv::Range& rows) {
    for (int r = rows.start; r < rows.end; ++r) correct_row(readings, tow_per_mm, r, f, scatter);
  });
}

void smooth_all(Fields& f, const cv::Mat1f& weight, double sigma) {
  const std::array<cv::Mat1f*, 4> all = {&f.sx, &f.sy, &f.tx, &f.ty};
  cv::parallel_for_(cv::Range(0, 4), [&](const cv::Range& some) {
    for (int k = some.start; k < some.end; ++k) *all[k] = smoothed(*all[k], weight, sigma);
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

// Moves a tow count so that the dark gaps between tows fall on whole numbers: the mean phase of its own line carrier.
void anchor(const cv::Mat2f& line, const cv::Mat1f& seen, cv::Mat1f& count) {
  cv::Vec2d sum(0, 0);
  for (int r = 0; r < line.rows; ++r) {
    for (int c = 0; c < line.cols; ++c) {
      if (seen(r, c) > 0.9F) sum += cv::Vec2d(line(r, c));
    }
  }
  // cos(2 pi s + phase) is least, the gap, where 2 pi s + phase = pi.
  const double phase = std::atan2(sum[1], sum[0]) / (2 * CV_PI);
  count += static_cast<float>(phase - 0.5);
}

}  // namespace

PhaseField refine_phase(const Normalised& n, const SeedField& seed, Hypothesis weave) {
  PhaseField field;
  field.block = std::max(1, cvRound(1.0 / n.mm_per_px));
  const cv::Size grid(n.z.cols / field.block, n.z.rows / field.block);
  const double node_mm = field.block * n.mm_per_px;
  Fields f = from_seed(n, seed, grid, field.block);
  cv::resize(n.seen(cv::Rect(0, 0, grid.width * field.block, grid.height * field.block)), field.seen, grid, 0, 0,
             cv::INTER_AREA);
  const double tow_per_mm =
      std::sqrt(1e-6 + std::abs(cv::mean(f.sx)[0] * cv::mean(f.ty)[0] - cv::mean(f.sy)[0] * cv::mean(f.tx)[0]));
  const double tow_nodes = 1.0 / (tow_per_mm * node_mm);
  const double lowpass = 0.65 / smallest_spacing(weave) * tow_nodes, smooth = 2.0 * tow_nodes;
  const std::vector<Carrier> carriers = carriers_of(weave);
  std::vector<Index> places;  // the carriers, then the empty place beside each
  for (const Carrier& c : carriers) places.push_back(c.index);
  for (const Carrier& c : carriers) places.push_back(empty_place(weave, c.index));
  cv::Mat1f share;  // of the low-pass window that is cloth: makes amplitudes at the border comparable
  cv::GaussianBlur(field.seen, share, {}, lowpass);
  field.scatter = cv::Mat1f(grid, 1.F);
  for (int round = 0; round < kRounds; ++round) {
    // Smoothed before integrating: noise above the window would stay in the result uncorrected.
    const cv::Mat1f weight = f.weight.mul(field.seen) + 1e-6F;
    smooth_all(f, weight, 0.75 * smooth);
    const float step = static_cast<float>(node_mm);
    field.s = integrate(f.sx * step, f.sy * step);
    field.t = integrate(f.tx * step, f.ty * step);
    // Integration makes the field curl-free; the carriers see its own differences, so the residuals add to those.
    const std::vector<cv::Mat2f> found = demodulate(n, field.s, field.t, field.block, places, lowpass);
    std::vector<Reading> readings(carriers.size());
    std::vector<cv::Mat1f> ratios(carriers.size());
    cv::parallel_for_(cv::Range(0, static_cast<int>(carriers.size())), [&](const cv::Range& some) {
      for (int i = some.start; i < some.end; ++i) {
        const Carrier& carrier = carriers[i];
        const cv::Mat1f power = power_of(found[i]), hole = power_of(found[carriers.size() + i]);
        const double noise = median_where(hole, field.seen) * carrier.noise_share;
        cv::Mat1f w;
        cv::sqrt(cv::max(power / noise - 1.0, 0.0), w);
        readings[i] = {carrier.index, residual_frequency(found[i], node_mm, 0.75 * smooth), w};
        if (carrier.tow_line) continue;
        // Beside glare the picture is full of ripples that the median over the face does not know.
        cv::Mat1f beside;
        cv::GaussianBlur(hole, beside, {}, smooth);
        const cv::Mat1f floor = cv::max(share.mul(share), 0.05) * noise;
        cv::divide(power, cv::max(floor, beside), ratios[i]);
      }
    });
    ratios.resize(static_cast<std::size_t>(
        std::count_if(carriers.begin(), carriers.end(), [](const Carrier& c) { return !c.tow_line; })));
    field.quality = quality_of(ratios);
    Fields differences = f;
    const auto central = [&](const cv::Mat1f& p, cv::Mat1f& gx, cv::Mat1f& gy) {
      for (int r = 0; r < grid.height; ++r) {
        for (int c = 0; c < grid.width; ++c) {
          const int l = std::max(c - 1, 0), q = std::min(c + 1, grid.width - 1), u = std::max(r - 1, 0),
                    v = std::min(r + 1, grid.height - 1);
          gx(r, c) = (p(r, q) - p(r, l)) / (static_cast<float>(q - l) * step);
          gy(r, c) = (p(v, c) - p(u, c)) / (static_cast<float>(v - u) * step);
        }
      }
    };
    central(field.s, differences.sx, differences.sy);
    central(field.t, differences.tx, differences.ty);
    f = differences;
    correct(readings, tow_per_mm, f, field.scatter);
  }
  const cv::Mat1f weight = f.weight.mul(field.seen) + 1e-6F;
  smooth_all(f, weight, 0.4 * smooth);
  const float step = static_cast<float>(node_mm);
  field.s = integrate(f.sx * step, f.sy * step);
  field.t = integrate(f.tx * step, f.ty * step);
  const std::vector<cv::Mat2f> lines = demodulate(n, field.s, field.t, field.block, {{1, 0}, {0, 1}}, lowpass);
  anchor(lines[0], field.seen, field.s);
  anchor(lines[1], field.seen, field.t);
  cv::merge(std::vector<cv::Mat>{f.sx, f.sy}, field.grad_s);
  cv::merge(std::vector<cv::Mat>{f.tx, f.ty}, field.grad_t);
  return field;
}

}  // namespace sheetloupe::weave
