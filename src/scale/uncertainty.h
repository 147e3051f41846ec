// The 95 % figure of the largest position error over the face, from the covariance of the fit.
#pragma once

#include <Eigen/Core>

#include "scale/bundle.h"

namespace sheetloupe::scale {

/// The seen grid of face points is mapped to mm with the unknowns moved one by one; what a rigid motion takes away does
/// not count, since a template is laid on by hand. `draws` samples of the covariance give the 95 % quantile of the
/// largest error, widened by 1.25 for priors that are up to twice too hopeful and rounded up to 0.05 mm. `grow`: a
/// further factor, before rounding.
double position_u95_mm(const Fit& fit, const Frame& frame, const std::array<ImagePoint, 4>& corners, int draws,
                       unsigned seed, double grow = 1.0);

/// Standard deviation of the length that the fit sees on the face between two photo points, mm; picking not included.
double length_sd_mm(const Fit& fit, const Frame& frame, ImagePoint a, ImagePoint b);

/// Points of the best rigid motion of `from` onto `to` (n x 2 each, mm).
Eigen::MatrixX2d rigidly_aligned(const Eigen::MatrixX2d& from, const Eigen::MatrixX2d& to);

/// Standard normal numbers from raw engine bits (Box and Muller 1958): the same on every standard library.
class Gauss {
 public:
  explicit Gauss(unsigned seed);
  double operator()();

 private:
  unsigned long long state_;
  double uniform();
};

}  // namespace sheetloupe::scale
