// The four-sided region that gathers most evidence for the sheet.
#pragma once

#include <array>
#include <opencv2/core.hpp>

namespace sheetloupe::outline {

using Quad = std::array<cv::Point2d, 4>;  // clockwise as seen, y down

/// `evidence`: CV_32F, above zero where sheet is likelier than table. The turned rectangle of largest sum, over all
/// angles: found whole, so there is no start that could mislead it.
Quad best_rectangle(const cv::Mat1f& evidence);

/// The four-sided shape near `quad` of largest sum: perspective turns a rectangle into one.
Quad refined_quad(const cv::Mat1f& evidence, Quad quad);

/// Sum and number of the cells inside.
struct QuadSum {
  double sum = 0.0;
  int cells = 0;
};
QuadSum sum_inside(const cv::Mat1f& evidence, const Quad& quad);

}  // namespace sheetloupe::outline
