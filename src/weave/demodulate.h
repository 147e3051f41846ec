// Carriers taken out of the picture along the cloth's own tow counts, many at once.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "weave/lattice.h"
#include "weave/normalise.h"

namespace sheetloupe::weave {

/// A carrier's complex amplitude on the nodes.
struct Carried {
  cv::Mat1f re, im;

  cv::Mat1f power() const { return re.mul(re) + im.mul(im); }
};

/// For every index (a, b): z e^(-2 pi i (a s + b t)), gathered over blocks of `block` px, two blocks a node each way,
/// then a Gaussian; in all a low-pass of `sigma_nodes`. `s` and `t` are tow counts on the nodes, one for 2 `block` px
/// each way, which the picture holds in whole numbers.
std::vector<Carried> demodulate(const Normalised& picture, const cv::Mat1f& s, const cv::Mat1f& t, int block,
                                const std::vector<Index>& indices, double sigma_nodes);

}  // namespace sheetloupe::weave
