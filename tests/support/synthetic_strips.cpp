#include "support/synthetic_strips.h"

#include <cmath>
#include <complex>
#include <numbers>

namespace sheetloupe {
namespace {

constexpr double kRadian = std::numbers::pi / 180.0;

}  // namespace

double Dice::uniform(double from, double to) {
  return from + (to - from) * static_cast<double>(engine_() >> 11U) * 0x1.0p-53;
}

double Dice::normal(double sd) {
  double sum = -6.0;
  for (int i = 0; i < 12; ++i) sum += uniform(0.0, 1.0);
  return sd * sum;
}

std::array<TrueStrip, 4> SyntheticScene::laid_around() {
  std::array<TrueStrip, 4> strips;
  strips[0] = {5, -118, 1.5};
  strips[1] = {152, 4, 91};
  strips[2] = {-6, 121, 178.5};
  strips[3] = {-149, -5, -88};
  return strips;
}

// The camera looks at the table's origin from `distance`, tilted about an axis in the table.
ImagePoint SyntheticScene::seen(double x, double y, double w) const {
  const double t = tilt_deg * kRadian, a = azimuth_deg * kRadian, r = roll_deg * kRadian;
  // Turn so that the tilt runs along y, tilt, turn back, roll.
  const double xa = std::cos(a) * x + std::sin(a) * y, ya = -std::sin(a) * x + std::cos(a) * y;
  const double yt = std::cos(t) * ya + std::sin(t) * w, zt = distance_mm + std::sin(t) * ya - std::cos(t) * w;
  const double xr = std::cos(r - a) * xa + std::sin(r - a) * yt, yr = -std::sin(r - a) * xa + std::cos(r - a) * yt;
  const double u = xr / zt, v = yr / zt, r2 = u * u + v * v, g = 1 + k1 * r2 + k2 * r2 * r2;
  const double ud = g * u + 2 * p1 * u * v + p2 * (r2 + 2 * u * u);
  const double vd = g * v + p1 * (r2 + 2 * v * v) + 2 * p2 * u * v;
  return {focal_px * (ud + shutter_a * vd) + cx + (image_width - 1) / 2.0,
          focal_px * (1 + shutter_c) * vd + cy + (image_height - 1) / 2.0};
}

std::array<SheetPoint, 4> SyntheticScene::sheet_corners() const {
  const double s = std::tan(skew_deg * kRadian) * height;
  return {SheetPoint{-width / 2, -height / 2}, SheetPoint{width / 2, -height / 2},
          SheetPoint{width / 2 + s, height / 2}, SheetPoint{-width / 2 + s, height / 2}};
}

ScaleInput SyntheticScene::input(Dice& dice, std::vector<int> strips_seen) const {
  ScaleInput input;
  input.image_size = {image_width, image_height};
  input.focal_35mm_mm = told_focal_35mm;
  input.standards.thickness_mm = Measured{thickness, 0.1};
  constexpr std::array<double, 4> kSx = {-1, 1, 1, -1}, kSy = {-1, -1, 1, 1};
  for (const int k : strips_seen) {
    const TrueStrip& s = strips[k];
    const double c = std::cos(s.turn_deg * kRadian), n = std::sin(s.turn_deg * kRadian);
    for (int j = 0; j < 5; ++j) {
      Marker marker;
      marker.id = 5 * k + j;
      for (int i = 0; i < 4; ++i) {
        const double along = s.print * (50.0 * (j - 2) + 10.0 * kSx[i]) + s.ink_bias_mm * kSx[i];
        const double across = s.print * (1 + s.anisotropy) * 10.0 * kSy[i] + s.ink_bias_mm * kSy[i];
        const double q = along / 125.0, x = s.x + c * along - n * across, y = s.y + n * along + c * across;
        const double w =
            s.height_mm + s.lift_mm * q + s.bow_mm * (1 - q * q) + table_bow_mm * (x * x + y * y) / (250.0 * 250.0);
        const ImagePoint p = seen(x, y, w);
        marker.corners[i] = {p.x + dice.normal(corner_noise_px), p.y + dice.normal(corner_noise_px)};
      }
      input.markers.push_back(marker);
    }
  }
  const auto corners = sheet_corners();
  std::array<ImagePoint, 4> px;
  for (int i = 0; i < 4; ++i) {
    const ImagePoint p = seen(corners[i].x, corners[i].y, thickness);
    px[i] = {p.x + dice.normal(outline_noise_px), p.y + dice.normal(outline_noise_px)};
  }
  input.corners_px = px;
  input.corner_u95_px = std::max(0.2, 1.96 * outline_noise_px);
  return input;
}

std::vector<ImagePoint> SyntheticScene::outline(Dice& dice, int n, double noise_px) const {
  std::vector<ImagePoint> points;
  const auto c = sheet_corners();
  for (int i = 0; i < 4; ++i) {
    const SheetPoint a = c[i], b = c[(i + 1) % 4];
    for (int j = 0; j < n; ++j) {
      const double u = static_cast<double>(j) / n;
      const ImagePoint p = seen(a.x + u * (b.x - a.x), a.y + u * (b.y - a.y), thickness);
      points.push_back({p.x + dice.normal(noise_px), p.y + dice.normal(noise_px)});
    }
  }
  return points;
}

double SyntheticScene::worst_error_mm(const SheetMap& map) const {
  // In the complex plane a rigid motion is q -> a q + b with |a| = 1; least squares in closed form.
  std::vector<std::complex<double>> truth, told;
  const auto c = sheet_corners();
  std::complex<double> mean_truth = 0, mean_told = 0;
  for (int i = 0; i < 121; ++i) {
    const double u = (i % 11) / 10.0, v = (i / 11) / 10.0;
    const double x = (1 - v) * ((1 - u) * c[0].x + u * c[1].x) + v * ((1 - u) * c[3].x + u * c[2].x);
    const double y = (1 - v) * ((1 - u) * c[0].y + u * c[1].y) + v * ((1 - u) * c[3].y + u * c[2].y);
    const SheetPoint q = map.sheet_from_image(seen(x, y, thickness));
    truth.emplace_back(x, y);
    told.emplace_back(q.x, q.y);
    mean_truth += truth.back() / 121.0;
    mean_told += told.back() / 121.0;
  }
  std::complex<double> turn = 0;
  for (int i = 0; i < 121; ++i) turn += (truth[i] - mean_truth) * std::conj(told[i] - mean_told);
  turn /= std::abs(turn);
  double worst = 0.0;
  for (int i = 0; i < 121; ++i) {
    worst = std::max(worst, std::abs(turn * (told[i] - mean_told) - (truth[i] - mean_truth)));
  }
  return worst;
}

SyntheticScene unkind_scene(Dice& dice, double width, double height) {
  SyntheticScene s;
  s.width = width;
  s.height = height;
  s.thickness = 6.0;
  s.distance_mm = dice.uniform(420, 520);
  s.tilt_deg = dice.uniform(0, 20);
  s.azimuth_deg = dice.uniform(0, 360);
  s.roll_deg = dice.uniform(-10, 10);
  s.focal_px = 3000.0 * (1 + dice.uniform(-0.03, 0.03));
  s.k1 = dice.uniform(-0.03, 0.03);
  s.k2 = dice.uniform(-0.03, 0.03);
  s.cx = dice.normal(15);
  s.cy = dice.normal(15);
  s.p1 = dice.normal(2e-4);
  s.p2 = dice.normal(2e-4);
  s.shutter_a = dice.normal(3e-4);
  s.shutter_c = dice.normal(3e-4);
  s.table_bow_mm = dice.normal(0.15);
  const double ink = dice.normal(0.05), anisotropy = dice.normal(0.002);
  for (TrueStrip& strip : s.strips) {
    strip.x += dice.uniform(-8, 8) + (strip.x > 100 ? (width - 240) / 2 : strip.x < -100 ? -(width - 240) / 2 : 0);
    strip.y += dice.uniform(-8, 8) + (strip.y > 100 ? (height - 180) / 2 : strip.y < -100 ? -(height - 180) / 2 : 0);
    strip.turn_deg += dice.uniform(-8, 8);
    strip.height_mm = std::abs(dice.normal(0.1));
    strip.lift_mm = dice.normal(0.1);
    strip.bow_mm = std::abs(dice.normal(0.4));
    strip.ink_bias_mm = ink;
    strip.anisotropy = anisotropy;
  }
  s.corner_noise_px = 0.1;
  s.outline_noise_px = 0.3;
  return s;
}

}  // namespace sheetloupe
