#include "support/flat_scene.h"

#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe {

RectifiedSheet flat_scene(const SceneSheet& scene, const SceneLight& light, double mm_per_px) {
  cv::Mat linear = render_face(scene, false, light, mm_per_px).light;
  cv::GaussianBlur(linear, linear, {}, 0.8);
  RectifiedSheet sheet;
  sheet.bgr = cv::Mat(linear.size(), CV_8UC3);
  SceneRandom random(scene.seed + 99);
  for (int r = 0; r < linear.rows; ++r) {
    for (int c = 0; c < linear.cols; ++c) {
      const double noise = 3.0 * (random.uniform() + random.uniform() - 1);
      for (int k = 0; k < 3; ++k) {
        sheet.bgr.at<cv::Vec3b>(r, c)[k] =
            cv::saturate_cast<unsigned char>(255 * std::pow(2.2 * linear.at<cv::Vec3f>(r, c)[k], 1 / 2.2) + noise);
      }
    }
  }
  sheet.cloth = cv::Mat(linear.size(), CV_8UC1, cv::Scalar(255));
  sheet.glare = cv::Mat::zeros(linear.size(), CV_8UC1);
  sheet.mm_per_px = sheet.photo_mm_per_px = mm_per_px;
  sheet.blur_sigma_px = 0.8;
  return sheet;
}

SceneSheet small_sheet() {
  SceneSheet sheet;
  sheet.width_mm = 120;
  sheet.height_mm = 100;
  sheet.seed = 8;
  return sheet;
}

SceneDrag random_drag(SceneRandom& random, Span radius_mm, Span turn_deg, Span x_mm, Span y_mm) {
  const double radius = random.between(radius_mm.low, radius_mm.high), towards = random.between(0, 2 * CV_PI);
  // The steepest slope of a Gaussian of height h and radius r is 0.61 h / r.
  const double height = radius * std::tan(random.between(turn_deg.low, turn_deg.high) * CV_PI / 180) / 0.61;
  const double x = random.between(x_mm.low, x_mm.high), y = random.between(y_mm.low, y_mm.high);
  return {{x, y}, radius, {height * std::cos(towards), height * std::sin(towards)}};
}

SceneLight random_lamp(SceneRandom& random) {
  const double azimuth = random.between(0, 2 * CV_PI), elevation = random.between(0.5, 1.2);
  SceneLight light;
  light.direction = {std::cos(azimuth) * std::cos(elevation), std::sin(azimuth) * std::cos(elevation),
                     std::sin(elevation)};
  return light;
}

}  // namespace sheetloupe
