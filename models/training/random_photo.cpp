// A phone takes the face and the program lays it flat again: everything a camera does to small bright and dark things.
#include <opencv2/imgproc.hpp>

#include "random_face.h"
#include "scene/noise.h"

namespace sheetloupe::training {
namespace {

// Light that changes over the sheet: a slope, a lamp's haze, a mirrored window with a soft edge.
void uneven_light(cv::Mat3f light, SceneRandom& r, double level) {
  const double gx = r.between(-0.6, 0.6), gy = r.between(-0.6, 0.6), haze = r.uniform() < 0.35 ? r.between(0, 4) : 0.0;
  const cv::Point2d lamp(r.between(-100, light.cols + 100), r.between(-100, light.rows + 100));
  const double spread = r.between(100, 400);
  const bool window = r.uniform() < 0.25;
  const cv::Point2d corner(r.between(0, light.cols), r.between(0, light.rows));
  const double turn = r.between(0, 6.3), soft = log_between(r, 4, 60), shine = level * log_between(r, 0.3, 25);
  const double wide = r.between(60, 350), high = r.between(60, 350);
  const auto seed = static_cast<std::uint64_t>(r.uniform() * 1e9);
  for (int y = 0; y < light.rows; ++y) {
    for (int x = 0; x < light.cols; ++x) {
      const double slope = std::exp(gx * (x / double(light.cols) - 0.5) + gy * (y / double(light.rows) - 0.5));
      const double d2 = (std::pow(x - lamp.x, 2) + std::pow(y - lamp.y, 2)) / (spread * spread);
      double add = level * haze * std::exp(-d2 / 2);
      if (window) {
        const double u = (x - corner.x) * std::cos(turn) + (y - corner.y) * std::sin(turn),
                     v = (y - corner.y) * std::cos(turn) - (x - corner.x) * std::sin(turn);
        const double deep = std::min(std::min(u, wide - u), std::min(v, high - v)) +
                            0.5 * soft * scene::noise2(x / 30.0, y / 30.0, seed);
        add += shine * std::clamp(deep / soft + 0.5, 0.0, 1.0);
      }
      const auto a = static_cast<float>(add);
      light(y, x) = light(y, x) * static_cast<float>(slope) + cv::Vec3f(a, a, a);
    }
  }
}

// JPEG's loss without its coding: blocks of 8 x 8 through the cosine transform, coarser for high frequencies.
// Steps after the common luminance table's rough shape (ITU-T T.81 Annex K): 12 at low, 80 at high frequencies.
void quantise(cv::Mat1f plane, double coarse) {
  for (int y = 0; y + 8 <= plane.rows; y += 8) {
    for (int x = 0; x + 8 <= plane.cols; x += 8) {
      cv::Mat1f block = plane(cv::Rect(x, y, 8, 8)), waves;
      cv::dct(block, waves);
      for (int i = 0; i < 8; ++i) {
        for (int j = 0; j < 8; ++j) {
          const auto step = static_cast<float>(coarse * (12 + 5 * (i + j)));
          waves(i, j) = step * std::round(waves(i, j) / step);
        }
      }
      cv::idct(waves, block);
    }
  }
}

void phone(cv::Mat3f& p, SceneRandom& r, double level) {
  const double exposure = r.between(0.015, 0.13) / level, gamma = r.between(1.8, 2.5);
  const double read = log_between(r, 0.3, 2.5), shot = log_between(r, 0.3, 2.5), contrast = r.between(0.0, 0.5);
  const std::array<double, 3> balance = {r.between(0.93, 1.07), 1.0, r.between(0.93, 1.07)};
  for (cv::Vec3f& q : p) {
    for (int k = 0; k < 3; ++k) {
      double v = std::pow(std::clamp(exposure * balance[k] * q[k], 0.0, 1.5), 1 / gamma);
      v = std::min(v, 1.0);
      v = (1 - contrast) * v + contrast * v * v * (3 - 2 * v);
      q[k] = static_cast<float>(255 * v + (read + shot * (1 - v)) * r.normal());
    }
  }
  cv::Mat3f soft;
  if (r.uniform() < 0.4) {  // noise reduction smears what is weak
    cv::bilateralFilter(p, soft, 5, r.between(5, 25), r.between(0.7, 1.6));
    p = soft.clone();
  }
  if (r.uniform() < 0.7) {
    cv::GaussianBlur(p, soft, {}, r.between(0.7, 1.6));
    p += r.between(0.2, 1.0) * (p - soft);
  }
  cv::Mat colours;
  cv::cvtColor(cv::Mat(cv::min(cv::max(p, 0), 255)), colours, cv::COLOR_BGR2YCrCb);
  std::vector<cv::Mat> planes;
  cv::split(colours, planes);
  const double coarse = log_between(r, 0.1, 1.1);
  quantise(planes[0], coarse);
  for (int k : {1, 2}) {
    cv::Mat half;
    cv::resize(planes[k], half, {}, 0.5, 0.5, cv::INTER_AREA);
    quantise(half, coarse);
    cv::resize(half, planes[k], planes[k].size(), 0, 0, cv::INTER_LINEAR);
  }
  cv::merge(planes, colours);
  cv::cvtColor(colours, p, cv::COLOR_YCrCb2BGR);
}

// As the program marks what is blown out.
cv::Mat glare_of(const cv::Mat& bgr) {
  cv::Mat blown;
  cv::inRange(bgr, cv::Scalar(250, 250, 250), cv::Scalar(255, 255, 255), blown);
  cv::morphologyEx(blown, blown, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  cv::dilate(blown, blown, cv::getStructuringElement(cv::MORPH_ELLIPSE, {7, 7}));
  return blown;
}

}  // namespace

RectifiedSheet photographed(cv::Mat3f light, SceneRandom& r, double level) {
  uneven_light(light, r, level);
  // Photo px per flat px, along and across the tilt, turned by any angle.
  const double scale = r.between(0.5, 1.05), squeeze = r.between(0.87, 1.0), turn = r.between(0, 2 * CV_PI),
               lean = r.between(0, CV_PI);
  const cv::Matx22d lay(std::cos(lean), std::sin(lean), -std::sin(lean), std::cos(lean)),
      press(scale, 0, 0, scale * squeeze), roll(std::cos(turn), std::sin(turn), -std::sin(turn), std::cos(turn));
  const cv::Matx22d to = roll * lay.t() * press * lay;
  const cv::Vec2d middle(light.cols / 2.0, light.rows / 2.0);
  const double w = std::abs(to(0, 0)) * light.cols + std::abs(to(0, 1)) * light.rows,
               h = std::abs(to(1, 0)) * light.cols + std::abs(to(1, 1)) * light.rows;
  const cv::Size size(cvCeil(w) + 8, cvCeil(h) + 8);
  const cv::Vec2d shift = cv::Vec2d(size.width / 2.0 + r.uniform(), size.height / 2.0 + r.uniform()) - to * middle;
  const cv::Matx23d there(to(0, 0), to(0, 1), shift[0], to(1, 0), to(1, 1), shift[1]);
  const double blur_px = r.between(0.5, 1.3);  // of the photo
  cv::GaussianBlur(light, light, {}, std::max(0.3, blur_px / scale - 0.3));
  cv::Mat3f photo;
  cv::warpAffine(light, photo, there, size, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  phone(photo, r, level);
  cv::Mat3b eight;
  photo.convertTo(eight, CV_8UC3);
  RectifiedSheet sheet;
  cv::warpAffine(eight, sheet.bgr, there, light.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
  sheet.cloth = cv::Mat(light.size(), CV_8UC1, cv::Scalar(255));
  sheet.glare = glare_of(sheet.bgr);
  sheet.mm_per_px = 0.1;
  sheet.photo_mm_per_px = 0.1 / (scale * squeeze);
  sheet.blur_sigma_px = blur_px;
  return sheet;
}

}  // namespace sheetloupe::training
