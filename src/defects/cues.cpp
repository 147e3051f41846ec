#include "defects/cues.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::defects {
namespace {

constexpr double kNodeMm = 0.4;
constexpr double kWindowTows = 0.55;    // sigma of the mean around a node
constexpr double kBackgroundMm = 18.0;  // slower changes are light, not defects

// Sums over blocks of pixels: values where the weight holds, and the weights.
struct Blocks {
  cv::Mat1f sum, weight;
};

Blocks blocks_of(const cv::Mat1f& values, const cv::Mat1b& where, int block) {
  const cv::Size grid(values.cols / block, values.rows / block);
  Blocks b{cv::Mat1f(grid, 0.F), cv::Mat1f(grid, 0.F)};
  cv::parallel_for_(cv::Range(0, grid.height), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      for (int y = r * block; y < (r + 1) * block; ++y) {
        for (int c = 0; c < grid.width; ++c) {
          for (int x = c * block; x < (c + 1) * block; ++x) {
            if (!where(y, x)) continue;
            b.sum(r, c) += values(y, x);
            b.weight(r, c) += 1;
          }
        }
      }
    }
  });
  return b;
}

cv::Mat1f window_mean(const Blocks& b, double sigma) {
  cv::Mat1f sum, weight, mean;
  cv::GaussianBlur(b.sum, sum, {}, sigma);
  cv::GaussianBlur(b.weight, weight, {}, sigma);
  cv::divide(sum, cv::max(weight, 1e-3), mean);
  return mean;
}

double median(std::vector<float> values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// Above the local background (reweighted so that defects do not pull it), in units of the sheet's MAD.
cv::Mat1f standardised(const cv::Mat1f& values, const cv::Mat1f& judged, double node_mm) {
  const double sigma = kBackgroundMm / node_mm;
  const int shrink = std::max(1, static_cast<int>(sigma / 4));
  const cv::Size small((values.cols + shrink - 1) / shrink, (values.rows + shrink - 1) / shrink);
  cv::Mat1f weight = judged.clone(), above = values.clone();
  double mad = 1.0;
  for (int round = 0; round < 4; ++round) {
    cv::Mat1f sum, total, mean, background;
    cv::resize(values.mul(weight), sum, small, 0, 0, cv::INTER_AREA);
    cv::resize(weight, total, small, 0, 0, cv::INTER_AREA);
    cv::GaussianBlur(sum, sum, {}, sigma / shrink, 0, cv::BORDER_REFLECT);
    cv::GaussianBlur(total, total, {}, sigma / shrink, 0, cv::BORDER_REFLECT);
    cv::divide(sum, cv::max(total, 1e-4), mean);
    cv::resize(mean, background, values.size(), 0, 0, cv::INTER_LINEAR);
    above = values - background;
    std::vector<float> size;
    for (int r = 0; r < above.rows; r += 2) {
      for (int c = 0; c < above.cols; c += 2) {
        if (judged(r, c) > 0.5F) size.push_back(std::abs(above(r, c)));
      }
    }
    mad = std::max(1.4826 * median(std::move(size)), 1e-6);
    for (int r = 0; r < above.rows; ++r) {
      for (int c = 0; c < above.cols; ++c) {
        const float miss = above(r, c) / static_cast<float>(2 * mad);
        weight(r, c) = judged(r, c) / (1 + miss * miss * miss * miss);
      }
    }
  }
  return above / mad;
}

// Slopes along and across the tow on top, per pixel, absolute.
void tow_gradients(const Locked& l, double mm_per_px, cv::Mat1f& along, cv::Mat1f& across, cv::Mat1b& core,
                   cv::Mat1b& edge) {
  cv::Mat1f smooth;
  cv::GaussianBlur(l.log_light, smooth, {}, 0.12 / mm_per_px);
  along = cv::Mat1f(l.warp.size(), 0.F);
  across = cv::Mat1f(l.warp.size(), 0.F);
  core = cv::Mat1b(l.warp.size(), static_cast<unsigned char>(0));
  edge = cv::Mat1b(l.warp.size(), static_cast<unsigned char>(0));
  cv::parallel_for_(cv::Range(1, l.warp.rows - 1), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      for (int c = 1; c + 1 < l.warp.cols; ++c) {
        if (!l.judged(r, c)) continue;
        const cv::Mat1f& count = l.warp_on_top(r, c) ? l.warp : l.weft;
        const float nx = count(r, c + 1) - count(r, c - 1), ny = count(r + 1, c) - count(r - 1, c);
        const float length = std::max(1e-6F, std::hypot(nx, ny));
        const float gx = smooth(r, c + 1) - smooth(r, c - 1), gy = smooth(r + 1, c) - smooth(r - 1, c);
        across(r, c) = std::abs(gx * nx + gy * ny) / length;
        along(r, c) = std::abs(gy * nx - gx * ny) / length;
        const float position = 2 * std::abs(count(r, c) - std::floor(count(r, c)) - 0.5F);  // 0 middle, 1 edge
        if (position < 0.5F) core(r, c) = 255;
        if (position > 0.75F) edge(r, c) = 255;
      }
    }
  });
}

cv::Mat1f extreme(const cv::Mat1f& blocks, double sigma, bool lowest) {
  const int k = 2 * std::max(1, cvRound(1.8 * sigma / 2)) + 1;
  cv::Mat1f out;
  const cv::Mat shape = cv::getStructuringElement(cv::MORPH_ELLIPSE, {k, k});
  lowest ? cv::erode(blocks, out, shape) : cv::dilate(blocks, out, shape);
  cv::GaussianBlur(out, out, {}, 0.6 * sigma);
  return out;
}

}  // namespace

Cues measure_cues(const RectifiedSheet& sheet, const Locked& l) {
  Cues cues;
  const int block = std::max(1, cvRound(kNodeMm / sheet.mm_per_px));
  cues.mm_per_node = block * sheet.mm_per_px;
  const double sigma = kWindowTows * l.tow_mm / cues.mm_per_node;
  cv::Mat1f along, across;
  cv::Mat1b core, edge;
  tow_gradients(l, sheet.mm_per_px, along, across, core, edge);
  std::array<cv::Mat1f, kCueCount> raw;
  const auto mean = [&](const cv::Mat1f& values, const cv::Mat1b& where) {
    return window_mean(blocks_of(values, where, block), sigma);
  };
  const Blocks everything = blocks_of(l.residual, l.judged, block);
  raw[kAlongGradient] = mean(along, core);
  raw[kAcrossGradient] = mean(across, core);
  raw[kResidualMean] = window_mean(everything, sigma);
  raw[kResidualEnergy] = mean(l.residual.mul(l.residual), l.judged);
  raw[kEdgeMean] = mean(l.residual, edge);
  raw[kWarpMean] = mean(l.residual, l.judged & l.warp_on_top);
  raw[kWeftMean] = mean(l.residual, l.judged & ~l.warp_on_top);
  const Blocks light = blocks_of(l.log_light, l.judged, block);
  cv::Mat1f block_light;
  cv::divide(light.sum, cv::max(light.weight, 1.0), block_light);
  cv::Mat1f filled = window_mean(light, 2 * sigma);
  block_light.copyTo(filled, light.weight > 0);
  raw[kFloor] = extreme(filled, sigma, true);
  raw[kCeiling] = extreme(filled, sigma, false);
  cv::Mat1f slow, fine;
  cv::GaussianBlur(l.log_light, slow, {}, 0.16 / sheet.mm_per_px);
  fine = l.log_light - slow;
  raw[kFine] = mean(fine.mul(fine), l.judged);
  const cv::Mat1f average = window_mean(light, sigma);
  raw[kContrast] = mean(l.log_light.mul(l.log_light), l.judged) - average.mul(average);
  for (Cue k : {kResidualEnergy, kFine, kContrast, kAlongGradient, kAcrossGradient})
    cv::log(cv::max(raw[k], 1e-6), raw[k]);
  std::vector<cv::Mat> planes;
  cv::split(sheet.bgr, planes);
  cv::Mat1f blue, green, red, lowest, highest;
  planes[0].convertTo(blue, CV_32F, 1, 8);
  planes[1].convertTo(green, CV_32F, 1, 8);
  planes[2].convertTo(red, CV_32F, 1, 8);
  lowest = cv::min(blue, cv::min(green, red));
  highest = cv::max(blue, cv::max(green, red));
  raw[kSaturation] = mean((highest - lowest) / highest, l.judged);
  cv::Mat1f ratio = red / blue;
  cv::log(ratio, ratio);
  raw[kRedBlue] = mean(ratio, l.judged);
  cv::GaussianBlur(light.weight / static_cast<double>(block * block), cues.judged, {}, sigma);
  for (int k = 0; k < kCueCount; ++k) cues.z[k] = standardised(raw[k], cues.judged, cues.mm_per_node);
  return cues;
}

}  // namespace sheetloupe::defects
