// From a gradient field to the surface that has it.
#pragma once

#include <opencv2/core.hpp>

namespace sheetloupe::weave {

/// Solves laplace(p) = div(g) with free borders by cosine transforms (Ghiglia and Romero 1994), unit spacing; p is
/// given up to a constant. Sizes are padded to ones that the transform likes, the outermost gradients going on.
cv::Mat1f integrate(const cv::Mat1f& gx, const cv::Mat1f& gy);

}  // namespace sheetloupe::weave
