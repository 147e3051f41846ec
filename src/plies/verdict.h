// From chances and safety readings to what may be said.
#pragma once

#include "sheetloupe/plies.h"

namespace sheetloupe::plies {

/// Fills verdict, plies, plies_range, plies_best and reason from the reading's evidence, px_per_ply and face_visible.
void judge(EdgeReading& reading, int best);

/// How a laid count fits what was read: contradicted counts are found, only a proven one is confirmed.
LaidVerdict compare_laid(const EdgeReading& reading);

}  // namespace sheetloupe::plies
