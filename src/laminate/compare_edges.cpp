#include <cstdio>

#include "sheetloupe/laminate.h"

namespace sheetloupe {
namespace {

std::string evidence(const EdgeReading& edge) {
  char words[120];
  const auto [low, high] = *edge.plies_range;
  std::snprintf(words, sizeof words, "%s (%.0f px a ply, chance %.2f)",
                low == high ? (std::to_string(low) + " plies").c_str()
                            : (std::to_string(low) + " or " + std::to_string(high) + " plies").c_str(),
                edge.px_per_ply, low == high ? edge.evidence.chance : edge.evidence.pair_chance);
  return "the " + edge.side + " edge shows " + words;
}

}  // namespace

std::optional<std::string> compare_edges(const std::vector<EdgeReading>& edges) {
  const EdgeReading *least = nullptr, *most = nullptr;
  for (const EdgeReading& edge : edges) {
    if (!edge.plies_range) continue;
    if (!least || (*edge.plies_range)[1] < (*least->plies_range)[1]) least = &edge;
    if (!most || (*edge.plies_range)[0] > (*most->plies_range)[0]) most = &edge;
  }
  if (!least || (*least->plies_range)[1] >= (*most->plies_range)[0]) return {};
  const int apart = (*most->plies_range)[0] - (*least->plies_range)[1];
  // Thickness speaks for or against a ply that stops short: one edge is thinner by about that ply.
  std::string thickness;
  if (least->band_px > 0 && most->band_px > 0 && !least->ply_thickness_mm.empty() && !most->ply_thickness_mm.empty())
    thickness =
        " Measure both edges with the caliper: a ply that stops short makes one of them thinner by about a ply.";
  return "The edges differ: " + evidence(*least) + ", " + evidence(*most) + ". Either " +
         (apart == 1 ? "a ply stops" : std::to_string(apart) + " plies stop") +
         " short between them, or one edge was misread." + thickness;
}

}  // namespace sheetloupe
