// Decides on areas: which nodes belong to a dry spot or a resin-rich pool. The plain decision, without a trained net.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "defects/cues.h"
#include "sheetloupe/defects.h"

namespace sheetloupe::defects {

struct AreaFind {
  cv::Mat1b mask;  // node grid, 255 inside
  DefectLabel kind = DefectLabel::dry_spot;
  double strength = 0.0;  // departure at its strongest place, in units of the sheet's scatter
};

/// Nodes that something covers: pen, tape, coloured dirt. Not judged.
cv::Mat1b covered(const Cues& cues);

std::vector<AreaFind> find_areas(const Cues& cues, const cv::Mat1b& covered, double tow_mm);

/// Probability that a find is real, from its strength.
double area_confidence(double strength);

}  // namespace sheetloupe::defects
