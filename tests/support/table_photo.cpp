#include "support/table_photo.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace sheetloupe {
namespace {

// A repeatable number in [0, 1) for a place and a purpose (SplitMix64's mixing).
double hashed(std::int64_t a, std::int64_t b, std::uint64_t seed) {
  std::uint64_t z = seed * 0x9E3779B97F4A7C15ULL + static_cast<std::uint64_t>(a) * 0xBF58476D1CE4E5B9ULL +
                    static_cast<std::uint64_t>(b) * 0x94D049BB133111EBULL;
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
  return static_cast<double>((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

// Twill: over two, under two; tows 2.2 mm apart, darker toward their borders.
cv::Vec3d cloth_at(double x, double y, std::uint64_t seed) {
  constexpr double kPitch = 2.2;
  const auto i = static_cast<std::int64_t>(std::floor(x / kPitch)),
             j = static_cast<std::int64_t>(std::floor(y / kPitch));
  const bool warp = (((i + j) % 4) + 4) % 4 < 2;
  const double across = warp ? x / kPitch - static_cast<double>(i) : y / kPitch - static_cast<double>(j);
  const double tow = 0.6 + 0.4 * std::sin(CV_PI * across);
  const double tone = (warp ? 38.0 : 72.0) * (0.85 + 0.3 * hashed(warp ? i : j, warp, seed)) * tow;
  return {tone * 1.02, tone, tone * 0.98};
}

cv::Vec3d table_at(const TablePhoto& w, double x, double y) {
  // Streaks along x of a few millimetres, blended between two rows of the hash.
  const double row = y / 1.7;
  const auto j = static_cast<std::int64_t>(std::floor(row));
  const double f = row - static_cast<double>(j);
  const auto level = [&](std::int64_t q) {
    return hashed(q, static_cast<std::int64_t>(std::floor(x / 60.0 + q * 0.37)), w.seed + 7);
  };
  const double streak = (1 - f) * level(j) + f * level(j + 1) - 0.5;
  return w.table_bgr * (1.0 + 3.4 * w.grain * streak);
}

// How far outside its side a wavy border reaches at `t` mm along it; its mean over a side is nought.
double wave(const TablePhoto& w, double t, double length, int side) {
  return w.ragged_mm * std::sin(2 * CV_PI * (t / length * (5 + side) + hashed(side, 3, w.seed)));
}

cv::Vec3d seen_at(const TablePhoto& w, double x, double y) {
  const double W = w.width_mm, H = w.height_mm;
  const double out =
      std::max({-y - wave(w, x, W, 0), x - W - wave(w, y, H, 1), y - H - wave(w, x, W, 2), -x - wave(w, y, H, 3)});
  if (w.sheet && out <= 0) {
    const auto short_by = [&](double along, int side) {
      return w.ragged_cloth_mm * hashed(std::lround(along / 2.2), 40 + side, w.seed);
    };
    const double depth =
        std::min({y - short_by(x, 0), W - x - short_by(y, 1), H - y - short_by(x, 2), x - short_by(y, 3)});
    const bool cloth = depth >= w.flash_mm;
    const double mottle = 0.85 + 0.3 * hashed(std::lround(x / 1.3), std::lround(y / 1.3), w.seed + 3);
    return cloth ? cloth_at(x, y, w.seed) : cv::Vec3d(w.flash_bgr * mottle);
  }
  cv::Vec3d table = table_at(w, x, y);
  if (w.sheet && w.shadow > 0 && x > 2 && y > 2) {
    const double far = std::max(x - W, y - H);
    table *= 1.0 - w.shadow * std::clamp((7.0 - far) / 3.0, 0.0, 1.0);
  }
  return table;
}

cv::Matx33d photo_from_sheet(const TablePhoto& w) {
  const double a = w.turn_deg * CV_PI / 180, c = std::cos(a), s = std::sin(a), k = w.px_per_mm;
  const cv::Matx33d centred(1, 0, -w.width_mm / 2, 0, 1, -w.height_mm / 2, 0, 0, 1);
  const cv::Matx33d tilted(1, 0, 0, 0, 1, 0, 0, -w.keystone / w.height_mm, 1);
  const cv::Matx33d placed(k * c, -k * s, w.size.width / 2.0, k * s, k * c, w.size.height / 2.0, 0, 0, 1);
  return placed * tilted * centred;
}

}  // namespace

DrawnPhoto draw_table_photo(const TablePhoto& wanted) {
  DrawnPhoto photo;
  const cv::Matx33d forward = photo_from_sheet(wanted), back = forward.inv();
  cv::Mat3f light(wanted.size);
  for (int r = 0; r < light.rows; ++r) {
    for (int c = 0; c < light.cols; ++c) {
      const cv::Vec3d p = back * cv::Vec3d(c, r, 1);
      light(r, c) = seen_at(wanted, p[0] / p[2], p[1] / p[2]);
    }
  }
  if (wanted.blur_px > 0) cv::GaussianBlur(light, light, {}, wanted.blur_px);
  photo.bgr.create(wanted.size, CV_8UC3);
  for (int r = 0; r < light.rows; ++r) {
    for (int c = 0; c < light.cols; ++c) {
      for (int k = 0; k < 3; ++k) {
        const double grain = hashed(r * 3 + k, c, wanted.seed + 11) + hashed(r * 3 + k, c, wanted.seed + 12) - 1.0;
        photo.bgr.at<cv::Vec3b>(r, c)[k] =
            cv::saturate_cast<unsigned char>(light(r, c)[k] + 2.45 * wanted.noise * grain);
      }
    }
  }
  const std::array<cv::Vec3d, 4> corners = {cv::Vec3d(0, 0, 1), cv::Vec3d(wanted.width_mm, 0, 1),
                                            cv::Vec3d(wanted.width_mm, wanted.height_mm, 1),
                                            cv::Vec3d(0, wanted.height_mm, 1)};
  for (int i = 0; i < 4; ++i) {
    const cv::Vec3d p = forward * corners[i];
    photo.corners_px[i] = {p[0] / p[2], p[1] / p[2]};
  }
  return photo;
}

}  // namespace sheetloupe
