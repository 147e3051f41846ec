#include "plies/verdict.h"

#include <cmath>
#include <string>

namespace sheetloupe::plies {
namespace {

// Below these a phone's sharpening and colour mixing make lines of their own: sure from 12 px a ply, two neighbours
// from 9.6, a best guess from 8. Common practice of sampling asks for 4 samples a line pair at least; a ply is two
// layers and its borders.
constexpr double kSurePx = 12.0, kBetweenPx = 9.6, kBestPx = 8.0;

// Set on generated edges (seeds 1000 to 1799 and 3000 to 3439). With the band right to a quarter of a ply 1 of some 320
// best counts above a chance of 0.95 was wrong; what is left are band errors, which the cover, the outside and the
// outer plies show. Edges of seeds from 500000 guard all limits together.
constexpr double kSureChance = 0.98, kSureCover = 0.7, kSureOutside = 0.25;
constexpr double kBetweenChance = 0.97, kBetweenCover = 0.6;
// Either the lines stand out or the plies swap; lines of half plies stand out too, but swap the wrong way.
constexpr double kLinesT = 3.5, kLinesSwap = 0.0, kSwapAlone = 0.25, kSwapAloneOuter = 0.1;
constexpr double kBetweenT = 2.1, kBetweenSwap = 0.1;
constexpr double kLeastOuterGap = 0.74, kMostOuterGap = 1.4;
constexpr double kStrongSwap = 0.5, kOuterSwap = 0.2;

std::string retake(const EdgeReading& r, double wanted) {
  const double closer = wanted / std::max(0.1, r.px_per_ply);
  char words[160];
  std::snprintf(words, sizeof words,
                "about %.0f px a ply, %.0f are needed. Go %.1f times closer, or use a sharper photo.", r.px_per_ply,
                wanted, std::max(1.1, closer));
  return words;
}

// The first thing that keeps the count from being sure, with what to do; empty when nothing does.
std::string objection(const EdgeReading& r, int best) {
  const EdgeEvidence& e = r.evidence;
  if (r.px_per_ply < kSurePx) return "Too coarse: " + retake(r, kSurePx + 3);
  if (r.face_visible)
    return "A face of the sheet shows beside the cut and may hide or add a ply. Turn the sheet until only the cut edge "
           "shows, and put a plain white card behind.";
  if (e.cover < kSureCover)
    return "A border of the edge is not clear along its length. Put a plain white card behind the edge, and light it "
           "evenly.";
  if (e.outside > kSureOutside)
    return "There are lines outside the borders that were found: a ply may be missing. Put a plain card behind whose "
           "tone differs from the edge's.";
  if (e.outer_gap < kLeastOuterGap || e.outer_gap > kMostOuterGap)
    return "An outermost ply is far thinner or thicker than the others: a border may be off, or resin lies on the "
           "face. "
           "Put a plain white card behind, and wipe the edge.";
  if (e.swap > kStrongSwap && e.outer_swap < kOuterSwap)
    return "An outermost ply does not show the weave that the others show. Turn the sheet until only the cut edge "
           "shows.";
  if (best < 3) return "Two plies are too few to be told from one thick or four thin ones.";
  const bool lines = e.line_t >= kLinesT && e.swap >= kLinesSwap;
  const bool swapping = e.swap >= kSwapAlone && e.outer_swap >= kSwapAloneOuter;
  if (!(lines || swapping) || e.chance < kSureChance)
    return "The lines between the plies are too faint. Sand the edge wet with P400 to P800, wipe it, and photograph it "
           "closer and sharper in even light.";
  return "";
}

bool may_be_between(const EdgeReading& r) {
  const EdgeEvidence& e = r.evidence;
  return r.px_per_ply >= kBetweenPx && !r.face_visible && e.pair_chance >= kBetweenChance &&
         (e.line_t >= kBetweenT || e.swap >= kBetweenSwap) && e.cover >= kBetweenCover && e.outside <= kSureOutside &&
         e.outer_gap >= kLeastOuterGap && e.outer_gap <= kMostOuterGap;
}

}  // namespace

void judge(EdgeReading& reading, int best) {
  if (reading.px_per_ply >= kBestPx) reading.plies_best = best;
  reading.reason = objection(reading, best);
  if (reading.reason.empty()) {
    reading.verdict = PlyVerdict::sure;
    reading.plies = best;
    reading.plies_range = {best, best};
  } else if (may_be_between(reading)) {
    reading.verdict = PlyVerdict::between;
    reading.plies_range = reading.evidence.pair;
  } else {
    reading.verdict = PlyVerdict::cannot_tell;
  }
}

LaidVerdict compare_laid(const EdgeReading& r) {
  if (!r.plies_laid) return LaidVerdict::not_checked;
  const int laid = *r.plies_laid;
  if (r.verdict == PlyVerdict::sure) return *r.plies == laid ? LaidVerdict::confirmed : LaidVerdict::mismatch;
  if (r.verdict == PlyVerdict::between) {
    const bool among = laid == (*r.plies_range)[0] || laid == (*r.plies_range)[1];
    return among ? LaidVerdict::not_proven : LaidVerdict::mismatch_likely;
  }
  return LaidVerdict::not_checked;
}

}  // namespace sheetloupe::plies
