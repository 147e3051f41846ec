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

/// What the net says of every node of a photo, joined with how far the cues are out.
struct Read {
  cv::Mat1f evidence;  // log odds for a flaw; kNothing where the photo does not judge
  cv::Mat1f dry;       // above 0 where a flaw would rather be dry than a pool
};
constexpr float kNothing = -99.0F;

/// Throws InputError when the bytes are no net of the expected shape.
Read read_nodes(const Cues& cues, const cv::Mat1b& covered, const std::vector<unsigned char>& onnx);

/// Several photos' evidence: the mean over those that judge a node. Gloss that is lost in every light stays, a
/// reflection that moves does not.
Read mean_of(const std::vector<Read>& reads);

/// The trained decision. `cloth_dm2`: judged cloth.
std::vector<AreaFind> find_areas(const Read& read, double mm_per_node, double cloth_dm2, const AskedRates& rates);

}  // namespace sheetloupe::defects
