// The camera over the table, as formulas that both the solver (with derivatives) and the maps (with doubles) use.
//
// Table frame: x right, y down as seen by a camera held level, w up toward the camera; the camera stands at height
// H = f / m above the origin. R = Rx(alpha) Ry(beta); the roll is left to the strips' own angles, so nothing is free to
// drift. Lens terms after Brown (1971): k1, k2 radial, p1, p2 decentering; a, c an affine shear and stretch along the
// sensor's rows' time (rolling shutter of a moving hand).
#pragma once

#include <array>
#include <cmath>

namespace sheetloupe::scale {

/// Indices into the camera's parameter block.
enum CameraIndex { kAlpha, kBeta, kLogM, kLogF, kK1, kK2, kP1, kP2, kCx, kCy, kShear, kStretch };
inline constexpr int kCameraSize = 12;

/// What the picture fixes: not estimated.
struct Frame {
  double centre_x = 0.0, centre_y = 0.0;  // middle of the picture, px
  bool turned_quarter = false;            // sensor rows run down the picture
};

template <class T>
struct Xy {
  T x, y;
};

/// Table point (x, y, w) mm to photo px.
template <class T>
Xy<T> project(const T* camera, const Frame& frame, const T& x, const T& y, const T& w) {
  using std::cos;
  using std::exp;
  using std::sin;
  const T f = exp(camera[kLogF]);
  const T depth = f / exp(camera[kLogM]) - w;
  const T ca = cos(camera[kAlpha]), sa = sin(camera[kAlpha]), cb = cos(camera[kBeta]), sb = sin(camera[kBeta]);
  const T x1 = cb * x + sb * depth, z1 = -sb * x + cb * depth;
  const T y2 = ca * y - sa * z1, z2 = sa * y + ca * z1;
  const T u = x1 / z2, v = y2 / z2;
  const T r2 = u * u + v * v;
  const T g = T(1.0) + camera[kK1] * r2 + camera[kK2] * r2 * r2;
  T ud = g * u + T(2.0) * camera[kP1] * u * v + camera[kP2] * (r2 + T(2.0) * u * u);
  T vd = g * v + camera[kP1] * (r2 + T(2.0) * v * v) + T(2.0) * camera[kP2] * u * v;
  if (frame.turned_quarter) {
    vd = vd + camera[kShear] * ud;
    ud = (T(1.0) + camera[kStretch]) * ud;
  } else {
    ud = ud + camera[kShear] * vd;
    vd = (T(1.0) + camera[kStretch]) * vd;
  }
  return {f * ud + T(frame.centre_x) + camera[kCx], f * vd + T(frame.centre_y) + camera[kCy]};
}

/// Photo px to the table point at height w. Fixed-point undistortion: each round gains about two digits for phone
/// lenses (|k1| r2 < 0.05), so twelve leave less than 1e-9 px.
template <class T>
Xy<T> back_project(const T* camera, const Frame& frame, const T& px, const T& py, const T& w) {
  using std::cos;
  using std::exp;
  using std::sin;
  const T f = exp(camera[kLogF]);
  T ud = (px - T(frame.centre_x) - camera[kCx]) / f, vd = (py - T(frame.centre_y) - camera[kCy]) / f;
  if (frame.turned_quarter) {
    ud = ud / (T(1.0) + camera[kStretch]);
    vd = vd - camera[kShear] * ud;
  } else {
    vd = vd / (T(1.0) + camera[kStretch]);
    ud = ud - camera[kShear] * vd;
  }
  T u = ud, v = vd;
  for (int i = 0; i < 12; ++i) {
    const T r2 = u * u + v * v;
    const T g = T(1.0) + camera[kK1] * r2 + camera[kK2] * r2 * r2;
    const T du = T(2.0) * camera[kP1] * u * v + camera[kP2] * (r2 + T(2.0) * u * u);
    const T dv = camera[kP1] * (r2 + T(2.0) * v * v) + T(2.0) * camera[kP2] * u * v;
    u = (ud - du) / g;
    v = (vd - dv) / g;
  }
  // The ray (u, v, 1) turned back by R^T; the plane lies `depth` in front.
  const T ca = cos(camera[kAlpha]), sa = sin(camera[kAlpha]), cb = cos(camera[kBeta]), sb = sin(camera[kBeta]);
  const T y1 = ca * v + sa, z1 = -sa * v + ca;
  const T rx = cb * u - sb * z1, rz = sb * u + cb * z1;
  const T depth = f / exp(camera[kLogM]) - w;
  return {rx / rz * depth, y1 / rz * depth};
}

/// Strip block: place and angle on the table, height and lift of its ends, bow.
enum StripIndex { kX, kY, kTheta, kHeight, kLift, kBow };
inline constexpr int kStripSize = 6;
/// Print block: log scale, cross-axis anisotropy, outward corner bias (mm).
enum PrintIndex { kLogPrint, kAnisotropy, kBias };
inline constexpr int kPrintSize = 3;

struct Xyw {
  double x, y, w;
};

template <class T>
struct TablePoint {
  T x, y, w;
};

/// A printed marker corner on the table. `along`, `across`: mm from the strip's middle as designed; `sx`, `sy` = +-1
/// tell the corner (right, lower = +1). `tau`: table bow, mm at 250 mm. `growth`: this marker's own half growth along
/// and across, mm. `base`: told strip height, mm.
template <class T>
TablePoint<T> strip_point(const T* strip, const T* print, const T& tau, const T* growth, double base,
                          double centre_along, double sx, double sy) {
  using std::cos;
  using std::exp;
  using std::sin;
  constexpr double kHalfSide = 10.0, kHalfLength = 125.0, kBowRadius = 250.0;
  const T s = exp(print[kLogPrint]);
  const T along = s * T(centre_along + kHalfSide * sx) + (print[kBias] + growth[0]) * T(sx);
  const T across = s * (T(1.0) + print[kAnisotropy]) * T(kHalfSide * sy) + (print[kBias] + growth[1]) * T(sy);
  const T ct = cos(strip[kTheta]), st = sin(strip[kTheta]);
  const T x = strip[kX] + ct * along - st * across, y = strip[kY] + st * along + ct * across;
  const T q = along / T(kHalfLength);
  const T w = T(base) + strip[kHeight] + strip[kLift] * q + strip[kBow] * (T(1.0) - q * q) +
              tau * (x * x + y * y) / T(kBowRadius * kBowRadius);
  return {x, y, w};
}

}  // namespace sheetloupe::scale
