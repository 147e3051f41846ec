// A cut edge of a woven laminate: every ply shows long yarns and tow ends that swap places along the length.
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "scene/noise.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {
namespace {

using scene::noise1;
using scene::noise2;

}  // namespace

cv::Mat render_edge(const SceneSheet& sheet, double length_mm, double px_per_mm, std::uint64_t seed) {
  const double margin_mm = 0.6 * sheet.thickness_mm;
  const cv::Size size(cvRound(length_mm * px_per_mm), cvRound((sheet.thickness_mm + 2 * margin_mm) * px_per_mm));
  cv::Mat3f linear(size);
  const double ply = sheet.thickness_mm / sheet.plies;
  SceneRandom random(seed);
  std::vector<double> start(sheet.plies);
  for (double& s : start) s = random.between(0, 4);
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const double x = c / px_per_mm, y = r / px_per_mm - margin_mm;
      double v = 0.62 + 0.02 * noise2(x / 3, y / 3, seed + 1);  // a plain white card behind
      if (y >= 0 && y < sheet.thickness_mm) {
        // Interfaces wave a little with the cloth.
        const auto interface = [&](int k) {
          return k == 0             ? 0.0
                 : k == sheet.plies ? sheet.thickness_mm
                                    : ply * k + 0.07 * ply * noise1(x / 3.1 + 9 * k, seed + 3);
        };
        int k = std::clamp(static_cast<int>(y / ply), 0, sheet.plies - 1);
        if (y < interface(k)) --k;
        if (k + 1 <= sheet.plies - 1 && y >= interface(k + 1)) ++k;
        k = std::clamp(k, 0, sheet.plies - 1);
        const double top = interface(k), bottom = interface(k + 1), q = (y - top) / (bottom - top);
        const double phase = x / sheet.weft_pitch_mm + start[k];
        const double swap = 0.5 + 0.13 * std::sin(2 * CV_PI * phase / 4);
        const bool upper = q < swap;
        const bool streak = upper == (std::fmod(phase, 4.0) < 2.0);
        const double tow_end = std::fmod(phase, 1.0) - 0.5;
        v = streak ? 0.16 + 0.05 * noise2(x * 1.2, y * 30, seed + 5)
                   : 0.075 + 0.03 * noise2(x * 14, y * 14, seed + 6) -
                         0.03 * std::exp(-std::pow((std::abs(tow_end) - 0.5) / 0.05, 2));
        const double near = std::min({y - top, bottom - y});
        v = v * (1 - 0.75 * std::exp(-near * near / (2 * 0.018 * 0.018))) +
            0.02 * std::exp(-near * near / (2 * 0.018 * 0.018));
      }
      const auto f = static_cast<float>(v);
      linear(r, c) = {f, f, f};
    }
  }
  cv::GaussianBlur(linear, linear, {}, 1.0);
  cv::Mat bgr(size, CV_8UC3);
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const double n = 4 * (random.uniform() + random.uniform() - 1);
      for (int k = 0; k < 3; ++k)
        bgr.at<cv::Vec3b>(r, c)[k] =
            cv::saturate_cast<unsigned char>(255 * std::pow(std::max(0.F, linear(r, c)[k]), 1 / 2.2) + n);
    }
  }
  return bgr;
}

}  // namespace sheetloupe
