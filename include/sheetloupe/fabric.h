// Cloths by name, and whether a photo shows the one that was named.
#pragma once

#include <optional>
#include <string>

#include "sheetloupe/weave.h"

namespace sheetloupe {

/// A balanced cloth: the same tow and spacing both ways.
struct Fabric {
  std::string name;  // "twill-2x2-3k-200"
  WeavePattern weave = WeavePattern::unknown;
  double tex = 0.0;             // g per km of one tow
  double areal_g_m2 = 0.0;      // of the dry cloth
  double density_g_cm3 = 1.76;  // of the fibre
};

/// Spacing of the tows: half the areal weight lies each way, so pitch = 2 tex / areal weight.
Mm tow_pitch(const Fabric& fabric);

/// Cured thickness of one ply at a fibre volume fraction in (0, 1): areal weight / (density x fraction).
Mm ply_thickness(const Fabric& fabric, double fibre_fraction);

/// "twill 2x2", "plain weave", "satin 5", "an unknown weave".
std::string words_for(WeavePattern pattern);

/// What speaks against the named cloth, as one sentence; none when the photo fits it or shows no weave.
std::optional<std::string> check_fabric(const Fabric& named, const WeaveAnalysis& seen);

}  // namespace sheetloupe
