#include "weave/carrier_fit.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/wide.h"
#include "weave/lanes.h"

namespace sheetloupe::weave {
namespace {

// The argument in turns times `factor`, to 1e-5 radian (Abramowitz and Stegun 1964, 4.4.47).
SHEETLOUPE_WIDE void argument(const Eight& re, const Eight& im, float factor, Eight& out) {
  const Eight x = re < 0.F ? -re : re, y = im < 0.F ? -im : im;
  const Eight low = x < y ? x : y, high = x < y ? y : x;
  const Eight t = low / (high + 1e-30F), t2 = t * t;
  Eight angle = t * (0.9998660F + t2 * (-0.3302995F + t2 * (0.1801410F + t2 * (-0.0851330F + t2 * 0.0208351F))));
  const float half = static_cast<float>(CV_PI);
  angle = x < y ? 0.5F * half - angle : angle;
  angle = re < 0.F ? half - angle : angle;
  out = (im < 0.F ? -angle : angle) * (factor / (2 * half));
}

void load(const float* from, int count, Eight& to) {
  if (count == kLanes) {
    std::memcpy(&to, from, sizeof to);
  } else {
    to = Eight{};
    std::memcpy(&to, from, count * sizeof(float));
  }
}

// Products of each value with the conjugate of the one two rows or columns before it, averaged; as arguments.
cv::Mat1f phase_step(const Carried& d, cv::Point apart, double per_turn, double sigma) {
  cv::Mat1f re(d.re.size()), im(d.re.size());
  const int rows = d.re.rows, cols = d.re.cols;
  for (int r = 0; r < rows; ++r) {
    const int above = std::max(r - apart.y, 0), below = std::min(r + apart.y, rows - 1);
    const float *a_re = d.re[above], *a_im = d.im[above], *b_re = d.re[below], *b_im = d.im[below];
    float *to_re = re[r], *to_im = im[r];
    for (int c = 0; c < cols; ++c) {
      const int a = std::max(c - apart.x, 0), b = std::min(c + apart.x, cols - 1);
      to_re[c] = b_re[b] * a_re[a] + b_im[b] * a_im[a];
      to_im[c] = b_im[b] * a_re[a] - b_re[b] * a_im[a];
    }
  }
  cv::GaussianBlur(re, re, {}, sigma);
  cv::GaussianBlur(im, im, {}, sigma);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; c += kLanes) {
      const int count = std::min(kLanes, cols - c);
      Eight x, y, step;
      load(re[r] + c, count, x);
      load(im[r] + c, count, y);
      argument(x, y, static_cast<float>(0.5 * per_turn), step);
      std::memcpy(re[r] + c, &step, count * sizeof(float));
    }
  }
  // At the border the neighbours are one node apart, not two.
  for (const int side : {0, 1}) {
    if (apart.x > 0) re.col(side * (cols - 1)) *= 2;
    if (apart.y > 0) re.row(side * (rows - 1)) *= 2;
  }
  return re;
}

struct EightReadings {
  float a, b;
  Eight fx, fy, weight;
};

struct EightFits {
  Eight sx, sy, tx, ty;  // what to add to the gradients
  Eight total, miss2;    // of the weights; of the weighted squares of what the fit leaves, cycles per tow
};

// Eight nodes at once. What is added to the normal equations bears carriers of a single direction.
SHEETLOUPE_WIDE void fit(std::vector<EightReadings>& readings, float tow_per_mm, EightFits& out) {
  constexpr float kMiss = 0.02F, kAdded = 1e-5F, kLeast = 1e-9F;  // kMiss in cycles per tow
  for (int round = 0; round < 2; ++round) {
    Eight aa = {}, ab = {}, bb = {}, ax = {}, ay = {}, bx = {}, by = {};
    for (const EightReadings& r : readings) {
      const Eight a = r.weight * r.a, b = r.weight * r.b;
      aa += a * r.a;
      ab += a * r.b;
      bb += b * r.b;
      ax += a * r.fx;
      ay += a * r.fy;
      bx += b * r.fx;
      by += b * r.fy;
    }
    const Eight added = kAdded * (aa + bb) + kLeast;
    aa += added;
    bb += added;
    const Eight scale = 1.F / (aa * bb - ab * ab);
    out = {(bb * ax - ab * bx) * scale,
           (bb * ay - ab * by) * scale,
           (aa * bx - ab * ax) * scale,
           (aa * by - ab * ay) * scale,
           Eight{},
           Eight{}};
    for (EightReadings& r : readings) {
      const Eight x = r.fx - r.a * out.sx - r.b * out.tx, y = r.fy - r.a * out.sy - r.b * out.ty;
      const Eight miss2 = (x * x + y * y) * (1.F / (tow_per_mm * tow_per_mm));
      out.total += r.weight;
      out.miss2 += r.weight * miss2;
      r.weight /= 1.F + miss2 * (1.F / (kMiss * kMiss));
    }
  }
}

void add_fits(const EightFits& fits, float tow_per_mm, int row, int col, int count, Fields& f, cv::Mat1f& scatter) {
  // A correction beyond a fifth of the frequency is noise, not cloth.
  const float limit = 0.2F * tow_per_mm;
  for (int k = 0; k < count; ++k) {
    const int c = col + k;
    if (std::hypot(fits.sx[k], fits.sy[k]) < limit && std::hypot(fits.tx[k], fits.ty[k]) < limit) {
      f.sx(row, c) += fits.sx[k];
      f.sy(row, c) += fits.sy[k];
      f.tx(row, c) += fits.tx[k];
      f.ty(row, c) += fits.ty[k];
    }
    scatter(row, c) = fits.total[k] > 1e-9F ? std::sqrt(fits.miss2[k] / fits.total[k]) : 1.F;
    f.weight(row, c) = fits.total[k];
  }
}

}  // namespace

Reading read_carrier(Index index, const Carried& carried, const cv::Mat1f& weight, double node_mm, double sigma) {
  return {index, phase_step(carried, {1, 0}, 1 / node_mm, sigma), phase_step(carried, {0, 1}, 1 / node_mm, sigma),
          weight};
}

void correct(const std::vector<Reading>& readings, double tow_per_mm, Fields& f, cv::Mat1f& scatter) {
  cv::parallel_for_(cv::Range(0, f.sx.rows), [&](const cv::Range& rows) {
    std::vector<EightReadings> eights(readings.size());
    for (int r = rows.start; r < rows.end; ++r) {
      for (int c = 0; c < f.sx.cols; c += kLanes) {
        const int count = std::min(kLanes, f.sx.cols - c);
        for (std::size_t i = 0; i < eights.size(); ++i) {
          const Reading& from = readings[i];
          eights[i].a = static_cast<float>(from.index.a);
          eights[i].b = static_cast<float>(from.index.b);
          load(from.fx[r] + c, count, eights[i].fx);
          load(from.fy[r] + c, count, eights[i].fy);
          load(from.weight[r] + c, count, eights[i].weight);
        }
        EightFits fits;
        fit(eights, static_cast<float>(tow_per_mm), fits);
        add_fits(fits, static_cast<float>(tow_per_mm), r, c, count, f, scatter);
      }
    }
  });
}

}  // namespace sheetloupe::weave
