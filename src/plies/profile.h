// Thickness along the edge and places that deserve a look.
#pragma once

#include "plies/flush_strip.h"
#include "plies/readings.h"
#include "plies/visible_face.h"
#include "sheetloupe/plies.h"

namespace sheetloupe::plies {

/// Face lines, mean height and, with a caliper thickness or a flush strip, the profile.
void fill_profile(EdgeReading& reading, const Band& cut, std::optional<double> thickness_mm,
                  const std::optional<FlushStrip>& strip);

/// Tracked lines in the photo and the thickness of every ply.
void fill_plies(EdgeReading& reading, const Band& cut, const Hypothesis& lines, int evidence_rows);

/// Dark gaps and spots in the straightened cut.
void fill_marks(EdgeReading& reading, const Band& cut, const cv::Mat1f& straight, double ply_rows);

}  // namespace sheetloupe::plies
