// What the pixels of a flat picture tell, summed over small blocks of them.
#pragma once

#include <array>
#include <opencv2/core.hpp>

#include "defects/reference.h"

namespace sheetloupe::defects {

// What is summed.
enum Channel {
  kAlongCore,   // size of the brightness slope along the tow on top, in its middle half
  kAcrossCore,  // across it
  kResidual,
  kResidualSquared,
  kResidualAtEdge,
  kResidualOnWarp,
  kResidualOnWeft,
  kLight,
  kLightSquared,
  kFineSquared,  // of the light above its mean around
  kColour,       // saturation
  kRedOverBlue,  // logarithm
  kChannelCount
};

// Over which pixels.
enum Group { kEverywhere, kOnCore, kAtEdge, kOnWarp, kOnWeft, kGroupCount };

constexpr std::array<Group, kChannelCount> kGroupOf = {kOnCore,     kOnCore,     kEverywhere, kEverywhere,
                                                       kAtEdge,     kOnWarp,     kOnWeft,     kEverywhere,
                                                       kEverywhere, kEverywhere, kEverywhere, kEverywhere};

/// Sums over blocks of judged pixels: of every channel, and how many pixels of its group were there.
struct Blocks {
  std::array<cv::Mat1f, kChannelCount> sum;
  std::array<cv::Mat1f, kGroupCount> count;
  const cv::Mat1f& count_of(Channel k) const { return count[kGroupOf[k]]; }
};

/// Blocks of `block` x `block` px; what is left over at the right and below belongs to none.
Blocks block_sums(const RectifiedSheet& sheet, const Locked& locked, int block);

}  // namespace sheetloupe::defects
