// The readings of every count that is tried, as one row of figures each for the trained weighing.
#pragma once

#include <vector>

#include "plies/tracks.h"

namespace sheetloupe::plies {

struct Candidate {
  Hypothesis lines;
  std::vector<Swap> swaps;       // ply by ply along the placed lines
  std::vector<double> readings;  // as named by reading_names()
};

const std::vector<const char*>& reading_names();

/// One candidate for every count from `least` to `most` that leaves a ply at least 5 rows.
std::vector<Candidate> read_candidates(Evidence& evidence, int least, int most);

}  // namespace sheetloupe::plies
