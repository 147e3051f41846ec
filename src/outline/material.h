// Where one material ends and another begins, whatever the shadow: the resin border's outer end.
#pragma once

#include <opencv2/core.hpp>

#include "outline/band.h"
#include "outline/path.h"

namespace sheetloupe::outline {

/// How far a step is looked at: the mean over `window` rows outside less that over as many inside, `gap` rows left out
/// on both sides for the photo's blur and its coarser colour planes.
struct StepReach {
  int gap = 2, window = 6;
};

/// CV_32F, [0, 1]: how surely another material begins here, going across the band; `certain` sigmas of what the table
/// alone shows give 1. 0 outside of `rows`.
cv::Mat1f material_edges(const Band& band, const StepReach& reach, double certain, const cv::Range& rows);

/// How much brightness and colour jump across a path, against how much they change along copies of it farther out,
/// where only table lies: `clear` rows outside of it and more, beyond the wall's foot.
struct Jump {
  double light = 0.0, colour = 0.0;              // natural logarithms
  double other_colour = 0.0;                     // of `colour`, what is no turn away from the cloth's colour
  double table_light = 0.0, table_colour = 0.0;  // the largest of the copies
  bool table_seen = false;                       // whether there was room for a copy
};
/// `cloth`: the end of the weave.
Jump jump_across(const Band& band, const Path& path, const Path& cloth, int clear);

/// Whether another material than the table lies inside of such a jump; `ragged`: the weave inside ends tow by tow.
bool is_material_end(const Jump& jump, bool ragged);

/// Mean of the band's colours over the rows [from, to] beside the path, paper left out.
cv::Vec3d mean_colour(const Band& band, const Path& path, int from, int to);

}  // namespace sheetloupe::outline
