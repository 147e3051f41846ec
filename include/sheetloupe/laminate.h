// What count, cloth and thickness say together about a laminate.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/fabric.h"
#include "sheetloupe/plies.h"
#include "sheetloupe/scale.h"

namespace sheetloupe {

/// Fibre volume fraction n A / (rho h) by ASTM D3171, Method II: `areal_g_m2` of one dry ply, `density_g_cm3` of the
/// fibre, `thickness_mm` of the laminate. Per total volume: what is not fibre is resin and voids together, and the
/// method cannot split them. All figures above 0.
double fibre_volume_fraction(double plies, double areal_g_m2, double density_g_cm3, double thickness_mm);

/// Share of the weight that is fibre, for a laminate without voids; resin density in g/cm3.
double fibre_weight_fraction(double volume_fraction, double fibre_g_cm3, double resin_g_cm3);

/// Density of a laminate without voids, g/cm3.
double laminate_density(double volume_fraction, double fibre_g_cm3, double resin_g_cm3);

struct Laminate {
  std::optional<int> plies;                       // only when the edges are sure and agree
  std::optional<std::array<int, 2>> plies_range;  // all counts that the edges leave open
  std::optional<double> fibre_fraction, fibre_fraction_u95;
  std::optional<std::array<double, 2>> fibre_fraction_range;      // over plies_range, each end with its uncertainty
  std::optional<double> areal_g_m2, density_g_cm3, thickness_mm;  // what it was reckoned from
  std::string reason;                                             // why no fraction; empty otherwise
  std::string reads_as;  // in plain words; what may be wrong when the figure is not credible
};

Laminate read_laminate(const std::vector<EdgeReading>& edges, const std::optional<Fabric>& fabric,
                       const std::optional<Measured>& thickness_mm);

/// Mean thickness of the edges that a flush strip gave the scale, none showing a face; nothing without such an edge.
std::optional<Measured> thickness_by_strips(const std::vector<EdgeReading>& edges);

/// Edges that contradict each other, with what that may mean and the evidence; none when they do not.
std::optional<std::string> compare_edges(const std::vector<EdgeReading>& edges);

}  // namespace sheetloupe
