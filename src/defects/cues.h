// What tells dry, wet and resin-rich cloth apart, measured on a grid of 0.4 mm or so: measuring only, no decision.
#pragma once

#include <array>
#include <opencv2/core.hpp>

#include "defects/reference.h"

namespace sheetloupe::defects {

enum Cue {
  kAlongGradient,   // brightness slope along the tow on top, tow core: the travelling highlight, lost on matte cloth
  kAcrossGradient,  // fibre streaks: slope across the tow on top, tow core
  kResidualMean,    // lighter or darker than the sheet's own look
  kResidualEnergy,  // unlike the sheet's own look
  kEdgeMean,        // the tow's edges
  kWarpMean,
  kWeftMean,  // where the warp, the weft lies on top
  kFloor,
  kCeiling,   // darkest and lightest within a tow
  kContrast,  // local scatter of brightness
  kFine,      // texture finer than 0.16 mm
  kRedBlue,
  kSaturation,
  kSharpMean,  // residual of the node alone, not of its window: outlines
  kSharpEnergy,
  kSharpEdge,
  kLogMean,  // as above, in quarters of natural log units instead of scatters: how much, not how unusual
  kLogEdge,
  kLogWarp,
  kLogWeft,
  kLogAlong,
  kCueCount
};

constexpr float kLeastJudged = 0.3F;  // share of a node's window that must be seen for a word on it

struct Cues {
  std::array<cv::Mat1f, kCueCount> z;  // above the robust local background, in units of the sheet's own scatter
  cv::Mat1f judged;                    // share of the node's window that is judged, [0, 1]
  double mm_per_node = 0.4;
};

Cues measure_cues(const RectifiedSheet& sheet, const Locked& locked);

}  // namespace sheetloupe::defects
