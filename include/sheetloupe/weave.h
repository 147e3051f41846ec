// The weave: which pattern, where every tow runs, and how sure that is.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/rectify.h"

namespace sheetloupe {

enum class WeavePattern { unknown, plain, twill_2x2, satin_5 };

struct WeaveOptions {
  double grid_mm = 1.0;       // step of the direction maps, mm, [0.5, 5]
  double min_pitch_mm = 1.0;  // tow spacing looked for, mm
  double max_pitch_mm = 4.5;
  bool warp_along_y = false;  // sheet.json "warp": "y"
};

/// Tow counts as smooth functions of position. Row r, column c of a field lies at sheet mm
/// origin + step_mm * (c + 0.5, r + 0.5). `warp_count` grows by one from each warp tow to the next, `weft_count`
/// likewise; an integer is the border between two tows.
struct WeavePhase {
  cv::Mat warp_count;  // CV_32FC1, NaN where unknown
  cv::Mat weft_count;  // CV_32FC1
  double step_mm = 1.0;
  SheetPoint origin;
  // Cell of the weave's repeat at a crossing: (warp_factor floor(warp_count) + weft_factor floor(weft_count)) mod
  // repeat.
  int repeat = 4, warp_factor = 1, weft_factor = 1;
};

struct WeaveZone {
  Polygon polygon;         // mm, sheet frame
  double worst_deg = 0.0;  // signed turn from the tow set's own mean, or shear, at the worst place
  SheetPoint worst_at;
  std::string what;  // "warp", "weft" or "shear"
};

/// A tow that is missing, or broken off, over a stretch; sheet frame.
struct TowFault {
  bool warp = false;       // a warp tow; else a weft tow
  bool closed_up = false;  // its neighbours have moved together; else the gap is left open
  bool whole = false;      // all across the cloth that is read
  SheetPoint from, to;     // ends of the stretch, to half a dozen tows
};

struct WeaveAnalysis {
  bool found = false;
  std::string reason;  // why not, and what to do
  WeavePattern pattern = WeavePattern::unknown;
  Axis warp, weft;             // robust means over the face
  double angle_u95_deg = 0.0;  // of those means
  double local_u95_deg = 0.0;  // median of u95_deg: of a direction read at one place
  Mm warp_pitch, weft_pitch;   // median spacing of the warp tows; of the weft tows
  Mm warp_pitch_u95, weft_pitch_u95;
  double shear_mean_deg = 0.0, shear_p95_abs_deg = 0.0, shear_max_abs_deg = 0.0;
  double warp_deviation_p95_deg = 0.0, weft_deviation_p95_deg = 0.0, deviation_max_deg = 0.0;
  double shear_max_u95_deg = 0.0, deviation_max_u95_deg = 0.0;  // of the two worst places; the p95 have local_u95_deg
  double coverage = 0.0;                                        // measured share of the cloth, [0, 1]
  cv::Mat warp_deg, weft_deg, u95_deg;                          // CV_32FC1, sheet frame, NaN where not measured
  double map_mm_per_px = 1.0;
  SheetPoint map_origin;
  std::optional<WeavePhase> phase;  // for the weave-locked stages
  std::vector<TowFault> tow_faults;
  std::vector<std::string> remarks;  // "weft leans 6.1 +-0.5 deg at 140, 62 mm", tow gaps, missing picks
};

WeaveAnalysis analyse_weave(const RectifiedSheet& sheet, const WeaveOptions& options = {});

/// Places where shear or deviation exceeds the limit, largest first.
std::vector<WeaveZone> find_weave_zones(const WeaveAnalysis& weave, double limit_deg);

}  // namespace sheetloupe
