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
  bool suspect = false;      // too weak for a find, strong enough to keep rings away
};

/// How many false finds and false suspects a sound sheet may give on average.
struct AskedRates {
  double finds = 1.0, suspects = 0.0;
};

struct PinholeSearch {
  std::vector<PinholeFind> finds;  // suspects included
  double threshold = 0.0;          // a find's least score
  double least = 0.0;              // a suspect's
};

/// The darkest or brightest points against their flanks, best first, at most `most`; masks are not yet filled.
std::vector<PinholeFind> pinhole_candidates(const Locked& locked, double mm_per_px, double warp_deg, double weft_deg,
                                            double least_px, std::size_t most);

/// Fills mask and diameter: what is connected to the peak and deeper than half of it.
void measure_pinhole(const Locked& locked, double mm_per_px, PinholeFind& find);

constexpr int kPatchSize = 24, kPatchPlanes = 8;
/// What the patch net sees around a candidate: kPatchPlanes pictures of kPatchSize, [-4, 4]; six at 0.1 mm, then
/// brightness and residual at twice that, for the crossings beside.
cv::Mat1f pinhole_patch(const Locked& locked, double mm_per_px, cv::Point at);

/// `false_alarms`: how many false finds this sheet may give on average; the threshold follows from the tail of the
/// sheet's own scores. `least_px`: diameters below this cannot be told from noise.
PinholeSearch find_pinholes(const Locked& locked, double mm_per_px, double warp_deg, double weft_deg, double least_px,
                            double false_alarms);

}  // namespace sheetloupe::defects
