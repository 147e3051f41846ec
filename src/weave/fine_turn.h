// Which way the finest structure runs, tow edges and fibres, against the lattice found: plain weave and satin share
// their lattice, and only this tells their tows apart once drags have smeared the peaks.
#pragma once

#include <optional>

#include "weave/lattice.h"
#include "weave/phase.h"

namespace sheetloupe::weave {

struct FineTurn {
  double turn_deg = 0.0;   // of the fine structure from the tow sets' axes, (-45, 45], counter-clockwise as seen
  double clearness = 0.0;  // length of the mean, [0, 1]: 0 when all directions are alike
};

FineTurn fine_turn(const Normalised& picture, const PhaseField& field);

/// Is the fine structure clear enough to tell anything?
bool tells(const FineTurn& fine);

/// Does the fine structure contradict the tow sets?
bool contradicts(const FineTurn& fine);

/// The same points read as another weave whose tows run `turn_deg` further; none where no weave shares them.
std::optional<Lattice> sibling(const Lattice& lattice, double turn_deg);

}  // namespace sheetloupe::weave
