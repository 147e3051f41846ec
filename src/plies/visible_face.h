// A face of the sheet that is seen beside the cut edge: plain where the cut is full of detail.
#pragma once

#include "plies/band.h"

namespace sheetloupe::plies {

/// What speaks for a plain strip between one outer border and the cut.
struct PlainStrip {
  double depth_px = 0.0;  // from the border to where the cut's detail begins; 0 when there is none
  double detail = 1.0;    // of the strip, share of the cut's own detail over the ground's
  double step = 0.0;      // how far the strip's mean grey lies from the cut's, share of the cut's
  double border = 0.0;    // share of places where strip and cut meet in a line
  double chance = 0.0;    // that it is a face, from the figures above
  FaceLine line;          // where they meet
};

struct PlainStrips {
  PlainStrip top, bottom;
};
/// `straight`: the straightened band, `rows` high, with ground above and below.
PlainStrips find_plain_strips(const cv::Mat1f& straight, int rows, const Band& band);

/// The band without the strips that are taken for faces.
Band cut_off(const Band& band, const PlainStrips& strips, bool top, bool bottom);

}  // namespace sheetloupe::plies
