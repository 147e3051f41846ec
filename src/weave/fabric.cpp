#include "sheetloupe/fabric.h"

#include <cmath>
#include <iomanip>
#include <sstream>

namespace sheetloupe {

Mm tow_pitch(const Fabric& fabric) { return Mm(2.0 * fabric.tex / fabric.areal_g_m2); }

Mm ply_thickness(const Fabric& fabric, double fibre_fraction) {
  return Mm(fabric.areal_g_m2 / (1000.0 * fabric.density_g_cm3 * fibre_fraction));
}

std::string words_for(WeavePattern pattern) {
  switch (pattern) {
    case WeavePattern::plain:
      return "plain weave";
    case WeavePattern::twill_2x2:
      return "twill 2x2";
    case WeavePattern::satin_5:
      return "satin 5";
    case WeavePattern::unknown:
      break;
  }
  return "an unknown weave";
}

std::optional<std::string> check_fabric(const Fabric& named, const WeaveAnalysis& seen) {
  // Weighing tolerance of a cloth and what laying it by hand shifts (common practice, no source).
  constexpr double kPitchShare = 0.08;
  if (!seen.found) return {};
  const double pitch = std::sqrt(seen.warp_pitch.value() * seen.weft_pitch.value());
  const double expected = tow_pitch(named).value();
  const bool weave_fits = seen.pattern == WeavePattern::unknown || seen.pattern == named.weave;
  const bool pitch_fits = std::abs(pitch / expected - 1.0) <= kPitchShare;
  if (weave_fits && pitch_fits) return {};
  std::ostringstream text;
  text << std::fixed << std::setprecision(2) << "The photo reads " << words_for(seen.pattern) << " with " << pitch
       << " mm tows; the cloth named, " << named.name << ", is " << words_for(named.weave) << " with " << expected
       << " mm tows. Check the cloth, and \"fabric\" in sheet.json.";
  return text.str();
}

}  // namespace sheetloupe
