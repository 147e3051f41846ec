// Refines both tow counts by the phase of carriers that follow the cloth (geometric phase analysis after Hytch, Snoeck
// and Kilaas 1998, with a warped carrier and the tow lines' own harmonics).
#pragma once

#include <opencv2/core.hpp>

#include "weave/seed.h"

namespace sheetloupe::weave {

/// Fields on the grid asked for: node (r, c) lies ((c, r) + 0.5) `step_mm` from the picture's outer corner.
struct PhaseField {
  double step_mm = 1.0;
  cv::Mat2f grad_s, grad_t;  // cycles per mm
  cv::Mat1f s, t;            // tow counts; a border between two tows at whole numbers
  cv::Mat1f quality;         // strength of the best carriers over the local noise
  cv::Mat1f scatter;         // rms disagreement of the carriers, cycles per tow
  cv::Mat1f seen;            // share of the node's surroundings that is cloth
};

/// Worked out on nodes about a tow apart, given on a grid of `step_mm`.
PhaseField refine_phase(const Normalised& picture, const SeedField& seed, Hypothesis weave, double step_mm);

}  // namespace sheetloupe::weave
