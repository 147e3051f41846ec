// Single tows that no longer show the weave's repeat, and lines along which the repeat jumps: a missing pick left open
// or closed up, a broken tow.
#pragma once

#include <vector>

#include "sheetloupe/weave.h"
#include "weave/normalise.h"

namespace sheetloupe::weave {

/// `measured`: the stage's own direction map on the phase's grid, NaN where the weave is not read.
std::vector<TowFault> find_tow_faults(const Normalised& picture, const WeavePhase& phase, const cv::Mat1f& measured);

}  // namespace sheetloupe::weave
