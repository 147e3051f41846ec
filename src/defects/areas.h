// Decides on areas: which nodes belong to a dry spot or a resin-rich pool. A plain decision and a trained one.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "defects/cues.h"
#include "defects/pinholes.h"
#include "sheetloupe/defects.h"

namespace sheetloupe::defects {

struct AreaFind {
  cv::Mat1b mask;  // node grid, 255 inside
  DefectLabel kind = DefectLabel::dry_spot;
  double confidence = 0.0;  // probability that it is real
  bool suspect = false;     // too weak a departure to be called anything
};

/// Nodes that something covers: pen, tape, coloured dirt. Not judged.
cv::Mat1b covered(const Cues& cues);

/// How far each node departs from the sheet's own look, in units of the sheet's scatter; 0 where not judged.
cv::Mat1f departure(const Cues& cues);

/// The plain decision: seeds far out, grown to where the departure has fallen.
std::vector<AreaFind> find_areas(const Cues& cues, const cv::Mat1b& covered, double tow_mm);

/// The trained decision: what the net reads in the cues and how far they are out, together. 
/// Throws InputError when the bytes are no net of the expected shape.
std::vector<AreaFind> find_areas(const Cues& cues, const cv::Mat1b& covered, const AskedRates& rates,
                                 const std::vector<unsigned char>& onnx);

}  // namespace sheetloupe::defects
