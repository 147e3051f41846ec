// Follows the lattice over the face, window by window, from the place where it was identified.
#pragma once

#include <opencv2/core.hpp>

#include "weave/lattice.h"
#include "weave/normalise.h"

namespace sheetloupe::weave {

/// Gradients of both tow counts on a coarse grid; node (r, c) lies `step_mm` * (c, r) from the picture's outer corner.
struct SeedField {
  cv::Mat4d reciprocal;  // (s_x, s_y, t_x, t_y), cycles per mm
  cv::Mat1f weight;      // 0 where the lattice was lost
  double step_mm = 1.0;
};

SeedField track(const Normalised& picture, const Lattice& lattice, cv::Point start);

}  // namespace sheetloupe::weave
