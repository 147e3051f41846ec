// The trained weighing of the readings.
#pragma once

#include <string_view>
#include <vector>

#include "plies/readings.h"

namespace sheetloupe::plies {

/// One weight a reading, in the order of reading_names(). Empty text: no weights. Throws InputError when the text does
/// not name every reading once.
std::vector<double> parse_weights(std::string_view text);

/// Chance of every candidate: the conditional logit exp(w . r) over its sum (McFadden 1974).
std::vector<double> chances(const std::vector<Candidate>& candidates, const std::vector<double>& weights);

}  // namespace sheetloupe::plies
