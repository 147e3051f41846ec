// What the carriers' phases say of the two tow counts' gradients, node by node.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "weave/demodulate.h"
#include "weave/lattice.h"

namespace sheetloupe::weave {

/// Both tow counts' gradients on the nodes.
struct Fields {
  cv::Mat1f sx, sy, tx, ty;  // cycles per mm
  cv::Mat1f weight;
};

/// What one carrier adds: how far the frequency found lies from the one it was taken out with.
struct Reading {
  Index index;
  cv::Mat1f fx, fy;  // cycles per mm
  cv::Mat1f weight;
};

/// The residual frequency of a carrier from the phase step between neighbours, averaged over `sigma` nodes; no
/// unwrapping is needed, since the step is small.
Reading read_carrier(Index index, const Carried& carried, const cv::Mat1f& weight, double node_mm, double sigma);

/// Adds the readings' weighted least squares, with one robust repeat, to the gradients. `scatter`: rms disagreement of
/// the carriers, cycles per tow.
void correct(const std::vector<Reading>& readings, double tow_per_mm, Fields& fields, cv::Mat1f& scatter);

}  // namespace sheetloupe::weave
