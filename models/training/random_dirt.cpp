// What lies on a sheet and is no flaw of it, as common as the flaws.
#include <opencv2/imgproc.hpp>

#include "random_face.h"
#include "scene/noise.h"

namespace sheetloupe::training {
namespace {

constexpr double kPxPerMm = 10.0;

cv::Scalar grey(double value) { return {value, value, value}; }

// Blends `value` over the picture with the weight of an 8-bit stencil.
void blend(cv::Mat3f light, const cv::Mat1b& stencil, cv::Rect at, cv::Scalar value, double opacity) {
  const cv::Rect inside = at & cv::Rect({}, light.size());
  for (int y = inside.y; y < inside.y + inside.height; ++y) {
    for (int x = inside.x; x < inside.x + inside.width; ++x) {
      const double w = opacity * stencil(y - at.y, x - at.x) / 255.0;
      for (int k = 0; k < 3; ++k) light(y, x)[k] = static_cast<float>((1 - w) * light(y, x)[k] + w * value[k]);
    }
  }
}

// A speck drawn eight times too large and shrunk, so that specks below a pixel stay right.
void speck(cv::Mat3f light, SceneRandom& r, cv::Point2d at, double diameter_mm, double value) {
  constexpr int kFine = 8, kSide = 24;
  cv::Mat1b large(kSide * kFine, kSide * kFine, static_cast<unsigned char>(0)), small;
  const double px = diameter_mm * kPxPerMm * kFine, stretch = r.between(1, 1.8), turn = r.between(0, 180);
  const cv::Point2d middle(kSide * kFine / 2.0 + r.between(-4, 4), kSide * kFine / 2.0 + r.between(-4, 4));
  for (int lump = r.uniform() < 0.4 ? 3 : 1; lump > 0; --lump) {
    const cv::Point2d off = lump == 1 ? cv::Point2d(0, 0) : cv::Point2d(r.normal(), r.normal()) * 0.3 * px;
    cv::ellipse(large, cv::RotatedRect(middle + off, cv::Size2d(px * stretch, px / stretch), static_cast<float>(turn)),
                cv::Scalar(255), cv::FILLED);
  }
  cv::resize(large, small, {kSide, kSide}, 0, 0, cv::INTER_AREA);
  blend(light, small, {cvRound(at.x) - kSide / 2, cvRound(at.y) - kSide / 2, kSide, kSide}, grey(value),
        r.between(0.5, 1.0));
}

// Several specks that cling together in a row.
void crumb(cv::Mat3f light, SceneRandom& r, cv::Point2d at, double part_mm, double value) {
  const double turn = r.between(0, 6.3);
  for (int part = 0; part < 3; ++part) {
    const double along = (part - 1) * part_mm * kPxPerMm * r.between(0.5, 0.9);
    speck(light, r, at + along * cv::Point2d(std::cos(turn), std::sin(turn)), part_mm * r.between(0.4, 0.9),
          value * r.between(0.6, 1.0));
  }
}

// A thread or scratch: a line of some width, straight or curling.
void thread(cv::Mat3f light, SceneRandom& r, cv::Point2d p, double value, bool straight) {
  cv::Mat1b stencil(light.size(), static_cast<unsigned char>(0));
  double turn = r.between(0, 6.3);
  const int steps = static_cast<int>(r.between(8, 70));
  for (int step = 0; step < steps; ++step) {
    const cv::Point2d q = p + 5.0 * cv::Point2d(std::cos(turn), std::sin(turn));
    cv::line(stencil, cv::Point(p * 16), cv::Point(q * 16), cv::Scalar(255), 1, cv::LINE_AA, 4);
    p = q;
    turn += straight ? 0.01 * r.normal() : 0.15 * r.normal();
  }
  blend(light, stencil, {{}, light.size()}, grey(value), r.between(0.2, 1.0));
}

void fingerprint(cv::Mat3f light, SceneRandom& r, cv::Point2d middle, double strength) {
  const double pitch = r.between(4, 6), wide = r.between(60, 95), high = r.between(80, 120);
  const auto seed = static_cast<std::uint64_t>(r.uniform() * 1e9);
  const cv::Rect box =
      cv::Rect(cvRound(middle.x - wide), cvRound(middle.y - high), cvRound(2 * wide), cvRound(2 * high)) &
      cv::Rect({}, light.size());
  for (int y = box.y; y < box.y + box.height; ++y) {
    for (int x = box.x; x < box.x + box.width; ++x) {
      const double dx = (x - middle.x) / wide, dy = (y - middle.y) / high, d = dx * dx + dy * dy;
      if (d > 1) continue;
      const double bend = 8 * scene::noise2(x / 60.0, y / 60.0, seed);
      const double ridge =
          0.5 + 0.5 * std::sin(2 * CV_PI * (std::hypot(x - middle.x + 40, 0.7 * (y - middle.y)) + bend) / pitch);
      const auto v =
          static_cast<float>(strength * (1 - d) * ridge * (0.6 + 0.4 * scene::noise2(x / 15.0, y / 15.0, seed + 1)));
      light(y, x) += cv::Vec3f(v, v, v);
    }
  }
}

void pen(cv::Mat3f light, SceneRandom& r, cv::Point2d p, double level, cv::Mat1b cover) {
  double turn = r.between(0, 6.3);
  const double v = level * log_between(r, 1.5, 9);
  const cv::Scalar colour = r.uniform() < 0.5 ? cv::Scalar(v, v * r.between(0.2, 1), v * r.between(0.2, 1)) : grey(v);
  const int width = static_cast<int>(r.between(4, 14));
  for (int step = static_cast<int>(r.between(10, 60)); step > 0; --step) {
    const cv::Point2d q = p + 6.0 * cv::Point2d(std::cos(turn), std::sin(turn));
    cv::line(light, p, q, colour, width);
    cv::line(cover, p, q, cv::Scalar(255), width + 6);
    p = q;
    turn += 0.2 * r.normal();
  }
}

// What tape leaves: a strip with straight sides, a little lighter or duller.
void tape(cv::Mat3f light, SceneRandom& r, cv::Point2d middle, double level) {
  cv::Mat1b stencil(light.size(), static_cast<unsigned char>(0));
  const cv::RotatedRect strip(middle, cv::Size2d(r.between(60, 300), r.between(60, 190)),
                              static_cast<float>(r.between(0, 180)));
  cv::Point2f corners[4];
  strip.points(corners);
  const std::array<cv::Point, 4> whole = {corners[0], corners[1], corners[2], corners[3]};
  cv::fillConvexPoly(stencil, whole.data(), 4, cv::Scalar(255));
  cv::GaussianBlur(stencil, stencil, {}, 0.7);
  blend(light, stencil, {{}, light.size()}, grey(level * r.between(0.8, 2.5)), r.between(0.05, 0.3));
}

}  // namespace

void add_dirt(cv::Mat3f light, SceneRandom& r, double level, cv::Mat1b cover) {
  const auto place = [&] { return cv::Point2d(r.between(0, light.cols), r.between(0, light.rows)); };
  for (int n = static_cast<int>(r.between(0, 36)); n > 0; --n) {
    const double value = level * (r.uniform() < 0.85 ? log_between(r, 1.4, 14) : r.between(0.1, 0.7));
    speck(light, r, place(), log_between(r, 0.08, 0.42), value);
  }
  // Crumbs as large as a pit are no round discs.
  for (int n = r.uniform() < 0.3 ? static_cast<int>(r.between(1, 4)) : 0; n > 0; --n)
    crumb(light, r, place(), log_between(r, 0.3, 0.8), level * log_between(r, 1.4, 10));
  for (int n = static_cast<int>(r.between(0, 7)); n > 0; --n) {
    const double value = level * (r.uniform() < 0.7 ? log_between(r, 1.3, 6) : r.between(0.2, 0.7));
    thread(light, r, place(), value, r.uniform() < 0.5);
  }
  for (int n = r.uniform() < 0.4 ? static_cast<int>(r.between(1, 4)) : 0; n > 0; --n)
    fingerprint(light, r, place(), level * r.between(0.05, 0.7));
  if (r.uniform() < 0.3) pen(light, r, place(), level, cover);
  if (r.uniform() < 0.2) tape(light, r, place(), level);
}

}  // namespace sheetloupe::training
