#include <algorithm>
#include <cmath>
#include <cstdio>

#include "sheetloupe/laminate.h"

namespace sheetloupe {
namespace {

// Cloth weighs what its sheet says to some 4 % (from memory of weavers' data sheets), 95 %.
constexpr double kArealU95 = 0.04;
// Outside of this no laminate of woven cloth is made: below it the cloth would float, above it the tows would have to
// be crushed (square packing of round fibres ends at pi / 4 = 0.785, and half of a woven ply's volume is tow borders).
constexpr double kLeastCredible = 0.15, kMostCredible = 0.68;

// Usual ranges by how the laminate was pressed; common practice, no source: a user's own coupons come first.
std::string words_for(double fraction) {
  if (fraction < kLeastCredible)
    return "Not credible: far too little fibre. The count, the cloth's weight or the thickness is wrong, or plies of "
           "another cloth or a core lie between.";
  if (fraction < 0.25)
    return "Very resin-rich: heavy and brittle. Or a ply more was laid than counted, or the caliper rode on a ridge.";
  if (fraction < 0.40) return "Usual for a loose hand lay-up.";
  if (fraction < 0.50) return "Usual for a hand lay-up squeezed between boards or under vacuum.";
  if (fraction < 0.60) return "Usual for infusion or well pressed prepreg.";
  if (fraction <= kMostCredible)
    return "Hard pressed: look for dry spots, since little resin is left between the tows. For a hand lay-up the "
           "count, "
           "the cloth's weight or the thickness may be wrong.";
  return "Not credible for woven cloth: the count, the cloth's weight or the thickness is wrong.";
}

std::optional<std::array<int, 2>> open_counts(const std::vector<EdgeReading>& edges) {
  std::optional<std::array<int, 2>> range;
  for (const EdgeReading& edge : edges) {
    if (!edge.plies_range) continue;
    if (!range) {
      range = edge.plies_range;
    } else {
      range = {{std::max((*range)[0], (*edge.plies_range)[0]), std::min((*range)[1], (*edge.plies_range)[1])}};
    }
  }
  return range;
}

}  // namespace

double fibre_volume_fraction(double plies, double areal_g_m2, double density_g_cm3, double thickness_mm) {
  // g/m2 over g/cm3 is 1e-6 m, a thousandth of a millimetre of solid fibre.
  return plies * areal_g_m2 / (1000.0 * density_g_cm3 * thickness_mm);
}

double fibre_weight_fraction(double volume_fraction, double fibre_g_cm3, double resin_g_cm3) {
  const double fibre = volume_fraction * fibre_g_cm3;
  return fibre / (fibre + (1 - volume_fraction) * resin_g_cm3);
}

double laminate_density(double volume_fraction, double fibre_g_cm3, double resin_g_cm3) {
  return volume_fraction * fibre_g_cm3 + (1 - volume_fraction) * resin_g_cm3;
}

// The strips are printed alike, so that several edges do not make the figure surer.
std::optional<Measured> thickness_by_strips(const std::vector<EdgeReading>& edges) {
  Measured mean;
  int count = 0;
  for (const EdgeReading& edge : edges) {
    if (edge.scale_source != EdgeScaleSource::strip || edge.face_visible) continue;
    mean.value += edge.strip_thickness_mm->value;
    mean.u95 = std::max(mean.u95, edge.strip_thickness_mm->u95);
    ++count;
  }
  if (count == 0) return {};
  mean.value /= count;
  return mean;
}

Laminate read_laminate(const std::vector<EdgeReading>& edges, const std::optional<Fabric>& fabric,
                       const std::optional<Measured>& thickness_mm) {
  Laminate laminate;
  laminate.plies_range = open_counts(edges);
  if (!laminate.plies_range) {
    laminate.reason = edges.empty() ? "no cut edge was photographed, so the plies are not counted"
                                    : "no edge photo shows the plies well enough to count them";
    return laminate;
  }
  const auto [low, high] = *laminate.plies_range;
  if (low > high) {
    laminate.plies_range.reset();
    laminate.reason = "the edges show different counts; see the remarks";
    return laminate;
  }
  if (low == high) laminate.plies = low;
  if (!fabric || !thickness_mm) {
    laminate.reason = !fabric ? "the cloth is not known: give \"fabric\" in sheet.json"
                              : "the thickness is not known: give \"thickness_mm\" in sheet.json";
    return laminate;
  }
  laminate.areal_g_m2 = fabric->areal_g_m2;
  laminate.density_g_cm3 = fabric->density_g_cm3;
  laminate.thickness_mm = thickness_mm->value;
  const auto fraction = [&](int n) {
    return fibre_volume_fraction(n, fabric->areal_g_m2, fabric->density_g_cm3, thickness_mm->value);
  };
  // (dV/V)^2 = (dA/A)^2 + (dh/h)^2: V is a product of powers one; the count is exact or stands as a range.
  const double relative = std::hypot(kArealU95, thickness_mm->u95 / thickness_mm->value);
  laminate.fibre_fraction_range = {{fraction(low) * (1 - relative), fraction(high) * (1 + relative)}};
  if (laminate.plies) {
    laminate.fibre_fraction = fraction(low);
    laminate.fibre_fraction_u95 = fraction(low) * relative;
    laminate.reads_as = words_for(fraction(low));
    return laminate;
  }
  char words[200];
  std::snprintf(
      words, sizeof words,
      "%d or %d plies leave the fibre volume fraction between %.2f and %.2f; one sure edge photo would settle it", low,
      high, (*laminate.fibre_fraction_range)[0], (*laminate.fibre_fraction_range)[1]);
  laminate.reason = words;
  return laminate;
}

}  // namespace sheetloupe
