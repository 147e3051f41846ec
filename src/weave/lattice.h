// The lattice of a woven picture: two reciprocal vectors, and which weave they carry.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "sheetloupe/weave.h"

namespace sheetloupe::weave {

/// Rows are the gradients of the two tow counts, cycles (tows) per mm: grad s, grad t.
using Reciprocal = cv::Matx22d;

/// A peak of the weave's spectrum in tow units: frequency = a grad s + b grad t.
struct Index {
  double a = 0.0, b = 0.0;
};

/// The weaves told apart. The two hands of 2/2 twill turn into each other with a quarter turn of the sheet, so they are
/// one hypothesis; satin's two hands do not.
enum class Hypothesis { plain, twill_2x2, satin_5, satin_5_mirrored };

WeavePattern pattern_of(Hypothesis weave);

/// Low-order peaks that the weave really has, one of each +- pair, strongest families first, tow lines not among them.
std::vector<Index> weave_peaks(Hypothesis weave);

/// A place between peaks, for the local noise level: `peak` moved by the weave's empty step.
Index empty_place(Hypothesis weave, Index peak);

/// Smallest spacing between lattice points, cycles per tow.
double smallest_spacing(Hypothesis weave);

/// Magnitude of the interlacing pattern's Fourier coefficient at (a, b), including the tows' own width; 0 off the
/// lattice.
double model_magnitude(Hypothesis weave, Index index);

/// Pitches within the options and each other's reach, tow sets within 18 degrees of square and right-handed as seen.
bool plausible(const Reciprocal& b, const WeaveOptions& options);

struct Lattice {
  Hypothesis weave = Hypothesis::plain;
  Reciprocal reciprocal;
  double score = 0.0;   // cosine similarity with the model, about 0 to 1.3
  double margin = 0.0;  // over the best other weave
};

/// One square patch of the normalised picture (CV_32F), `mm_per_px`; none when nothing resembles a weave.
std::optional<Lattice> identify(const cv::Mat& patch, double mm_per_px, const WeaveOptions& options);

}  // namespace sheetloupe::weave
