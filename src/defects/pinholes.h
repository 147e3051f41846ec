// Small pits: dark points that neither the weave nor a streak explains.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "defects/reference.h"

namespace sheetloupe::defects {

struct PinholeFind {
  cv::Point at;              // px of the flat picture
  double score = 0.0;        // depth in units of the sheet's own scatter at that size
  double diameter_mm = 0.0;  // equivalent, of what lies deeper than half
  double confidence = 0.0;   // 1 - expected false ones of this score over all of this score
  cv::Mat1b mask;            // small picture around `at`, odd sized, 255 inside
};

struct PinholeSearch {
  std::vector<PinholeFind> finds;
  double threshold = 0.0;
};

/// `false_alarms`: how many false finds this sheet may give on average; the threshold follows from the tail of the
/// sheet's own scores. `least_px`: diameters below this cannot be told from noise.
PinholeSearch find_pinholes(const Locked& locked, double mm_per_px, double warp_deg, double weft_deg, double least_px,
                            double false_alarms);

}  // namespace sheetloupe::defects
