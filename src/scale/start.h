// A first guess good enough for the joint fit: planar pose of every strip, the common plane chosen among their twins.
#pragma once

#include <optional>

#include "scale/bundle.h"

namespace sheetloupe::scale {

/// `focal_px`: nominal focal length. None when no strip gives a pose. Fills camera (tilt, scale, focal length) and the
/// strips' places; everything else stays at its prior mean. Marks the corners of misread markers as not used.
std::optional<Unknowns> guess(BundleInput& input, double focal_px);

}  // namespace sheetloupe::scale
