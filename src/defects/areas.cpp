#include "defects/areas.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::defects {
namespace {

// A region is grown from places this far out to where the departure has fallen to the second figure (units of the
// sheet's own scatter). Sound rendered cloth stays below 12 on most sheets; half of the dry spots above 12 mm2 exceed
// it.
constexpr double kSeed = 12.0, kGrow = 6.0;
// Smaller finds are within the natural spread from tow to tow: a tow cell is some 4 mm2.
constexpr double kLeastTowCells = 1.5;

double mean_over(const cv::Mat1f& values, const cv::Mat1b& mask) { return cv::mean(values, mask)[0]; }

double percentile90(const cv::Mat1f& values, const cv::Mat1b& mask) {
  std::vector<float> list;
  for (int r = 0; r < mask.rows; ++r) {
    for (int c = 0; c < mask.cols; ++c) {
      if (mask(r, c)) list.push_back(values(r, c));
    }
  }
  const auto at = list.begin() + static_cast<std::ptrdiff_t>(0.9 * static_cast<double>(list.size() - 1));
  std::nth_element(list.begin(), at, list.end());
  return *at;
}

// A pool of resin hides the weave: contrast and detail are lost together and it is no lighter than the cloth. A dry
// spot keeps its tows.
DefectLabel kind_of(const Cues& cues, const cv::Mat1b& mask) {
  const bool hidden = mean_over(cues.z[kContrast], mask) < -3.0 && mean_over(cues.z[kFine], mask) < -3.0 &&
                      mean_over(cues.z[kAcrossGradient], mask) < -3.0;
  return hidden && mean_over(cues.z[kFloor], mask) < 3.0 ? DefectLabel::resin_rich : DefectLabel::dry_spot;
}

// Logistic in the logarithm of strength: 12 scatters are as often something as nothing, 30 are nearly always something.
double plain_confidence(double strength) {
  return 1.0 / (1.0 + std::exp(-4.0 * (std::log(strength) - std::log(14.0))));
}

}  // namespace

// How far a node departs from the sheet's own look, whichever way the light falls: unlike in detail, lighter or darker
// as a whole or at tow edges, or without the highlight that runs along a glossy tow.
cv::Mat1f departure(const Cues& cues) {
  cv::Mat1f d(cues.judged.size(), 0.F);
  for (int r = 0; r < d.rows; ++r) {
    for (int c = 0; c < d.cols; ++c) {
      if (cues.judged(r, c) < 0.7F) continue;
      const float detail = std::max(0.F, cues.z[kResidualEnergy](r, c)),
                  gloss = std::max(0.F, -cues.z[kAlongGradient](r, c));
      float light = 0;
      for (const Cue k : {kResidualMean, kEdgeMean, kWarpMean, kWeftMean})
        light = std::max(light, std::abs(cues.z[k](r, c)));
      d(r, c) = std::sqrt(detail * detail + light * light + gloss * gloss);
    }
  }
  return d;
}

cv::Mat1b covered(const Cues& cues) {
  // Carbon and epoxy are nearly grey: colour twelve scatters above the cloth's own is ink or tape.
  constexpr double kInk = 12.0;
  cv::Mat1b mask = cues.z[kSaturation] > kInk;
  // Near the cloth's border the table's own colour shines into the window.
  cv::Mat inner;
  cv::copyMakeBorder(cues.judged > 0.5, inner, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  const int reach = 2 * cvRound(2.0 / cues.mm_per_node) + 1;
  cv::erode(inner, inner, cv::getStructuringElement(cv::MORPH_ELLIPSE, {reach, reach}));
  mask &= inner(cv::Rect({1, 1}, mask.size()));
  cv::morphologyEx(mask, mask, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_RECT, {2, 2}));
  cv::dilate(mask, mask, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
  return mask;
}

std::vector<AreaFind> find_areas(const Cues& cues, const cv::Mat1b& cover, double tow_mm) {
  cv::Mat1f d = departure(cues);
  d.setTo(0, cover);
  const cv::Mat1b grown = d > kGrow;
  cv::Mat1i labels;
  cv::Mat stats, middles;
  const int count = cv::connectedComponentsWithStats(grown, labels, stats, middles, 4);
  std::vector<AreaFind> finds;
  const double node_mm2 = cues.mm_per_node * cues.mm_per_node;
  for (int i = 1; i < count; ++i) {
    if (stats.at<int>(i, cv::CC_STAT_AREA) * node_mm2 < kLeastTowCells * tow_mm * tow_mm) continue;
    cv::Mat1b part = labels == i;
    double strongest = 0;
    cv::minMaxLoc(d, nullptr, &strongest, nullptr, nullptr, part);
    if (strongest < kSeed) continue;
    // Half depth, for the window's blur would leave the outline too wide: of 23 dry spots on rendered faces of a
    // foreign kind, areas came out 1.26, 1.07 and 0.90 times the true ones at 0.3, 0.5 and 0.6 of the depth.
    cv::Mat1b tight = part & (d > std::max(kGrow, 0.5 * percentile90(d, part)));
    if (cv::countNonZero(tight) * node_mm2 < 0.5 * kLeastTowCells * tow_mm * tow_mm) continue;
    finds.push_back({tight, kind_of(cues, tight), plain_confidence(strongest), false});
  }
  return finds;
}

}  // namespace sheetloupe::defects
