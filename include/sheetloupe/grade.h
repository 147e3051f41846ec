// The grade: every limit of a rubric held against what was measured, uncertainty included.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sheetloupe/defects.h"
#include "sheetloupe/geometry.h"
#include "sheetloupe/placement.h"
#include "sheetloupe/usable.h"

namespace sheetloupe {

/// What a limit can be set on. Units: diameters and lengths mm, turns degrees, shares percent.
enum class Measure {
  dry_spot_diameter,    // the largest, over both faces
  pinhole_diameter,     // the largest
  resin_rich_diameter,  // the largest
  pinholes_per_dm2,     // of a face; in a zone: of the worst zone
  pinholes_in_zone,     // how many lie in the worst zone; needs a zone
  dry_spot_share,       // percent of a face, or of the worst zone
  resin_rich_share,     // percent
  tow_turn_p95,         // 95 % of the face turns less from its tow set's mean; in a zone: the worst zone's p95
  shear_p95,            // 95 % of the face is sheared less
  split_length,         // the longest split on a cut edge
  thickness_spread,     // most minus least on one edge
  plies_off,            // plies counted against plies laid
  usable_share,         // percent of the sheet
  ring_yield            // percent: good blanks of what a flawless sheet would hold
};

struct MeasureInfo {
  Measure measure;
  std::string_view name;   // as the rubric file and report.json write it
  std::string_view words;  // as a person reads it
  std::string_view unit;
  bool zones;  // can be judged zone by zone
};
/// Every measure, in the order of the enum.
const std::vector<MeasureInfo>& all_measures();
const MeasureInfo& info_of(Measure measure);

/// How far a limit's number can be trusted.
enum class Sureness { published, from_memory, common_practice };

/// A sheet within `a` is A in this measure, within `b` B, else C. `at_least`: the measure must not be smaller than the
/// limit; else not larger. Then a <= b, with at_least a >= b.
struct Limit {
  Measure measure = Measure::usable_share;
  std::optional<double> zone_mm;  // side of a square zone: the worst one counts, not the whole sheet
  bool at_least = false;
  double a = 0.0, b = 0.0;
  bool required = false;  // without this measure the sheet is not graded
  Sureness sure_a = Sureness::common_practice, sure_b = Sureness::common_practice;
  std::string source;
};

struct Rubric {
  std::string name;                    // "ring-making"
  std::string title;                   // one line for a person
  std::array<std::string, 3> meaning;  // of A, B and C
  double least_judged_share = 90.0;    // percent of each face that must have been judged, else not graded
  bool back_required = false;          // not graded without a measured back
  double weave_zone_deg = 5.0;         // a turn or shear beyond this bars the place for rings
  std::vector<Limit> limits;
};

/// Throws InputError naming the limit and the rule: an empty rubric, limits in the wrong order, a zone where the
/// measure has none or none where it needs one, the same limit twice.
void check(const Rubric& rubric);

struct GradeDefect {
  std::string id;
  DefectLabel kind = DefectLabel::dry_spot;
  SheetPoint centre;  // mm, the face's own frame
  double diameter_mm = 0.0;
  double area_mm2 = 0.0, area_u95_mm2 = 0.0;
  double confidence = 1.0;  // [0, 1]
};

/// Turns of the tows from their means on a coarse grid; cell (r, c) lies at origin + step (c + 0.5, r + 0.5).
struct TurnGrid {
  SheetPoint origin;
  double step_mm = 5.0;
  int columns = 0, rows = 0;
  std::vector<std::optional<double>> warp_deg, weft_deg;  // row by row
};

struct GradeFace {
  std::string role;  // "front" or "back"
  bool measured = false;
  std::string reason;  // why not
  double width_mm = 0.0, height_mm = 0.0;
  bool judged = false;  // defects
  std::string not_judged_reason;
  double judged_share = 0.0;         // percent of the cloth
  double smallest_pinhole_mm = 0.0;  // smaller ones cannot be seen in this photo
  std::vector<GradeDefect> defects;
  bool weave_found = false;
  std::string weave_reason;
  double turn_p95_deg = 0.0, shear_p95_deg = 0.0;
  double local_u95_deg = 0.0;  // of a direction read at one place
  TurnGrid turns;
};

struct GradeEdge {
  std::string side;
  std::optional<double> spread_mm, spread_u95_mm;
  std::optional<double> longest_split_mm;       // none: not measured in mm
  std::optional<std::array<int, 2>> plies_off;  // least and most difference between counted and laid
};

struct RingYield {
  int good = 0;        // blanks in the plan
  double share = 0.0;  // percent; blanks of mixed saws count by the area that saw and web take
};

struct GradeInput {
  std::vector<GradeFace> faces;  // front first
  std::vector<GradeEdge> edges;
  std::optional<double> usable_share, usable_share_u95;  // percent
  std::optional<RingYield> yield;
  std::string no_yield_reason;  // why there is none
};

enum class Verdict { passes, too_close_to_call, over, not_measured };

/// One limit held against the sheet. `low` and `high` enclose the true value with 95 %.
struct LimitResult {
  Limit limit;
  std::optional<double> value, u95;
  double low = 0.0, high = 0.0;
  std::string where;   // "F3 on the front", "the zone at 50, 25 mm on the back"
  std::string reason;  // why not measured, or what widens the interval
  Verdict against_a = Verdict::not_measured, against_b = Verdict::not_measured;
  char best = 'C', worst = 'C';  // the grades that the interval allows
};

struct Grade {
  bool graded = false;
  char letter = 'C';                 // the worst grade that the measures allow: on the limit is not a pass
  char could_be = 'C';               // the best grade that they allow
  std::string rubric, meaning;       // of the letter
  std::vector<std::string> reasons;  // sentences: what set the grade, or why there is none
  std::vector<std::string> remarks;  // what was not looked at
  std::vector<LimitResult> results;  // every limit, in the rubric's order
};

Grade grade_sheet(const GradeInput& input, const Rubric& rubric);

/// The share of a flawless sheet's blanks that the plan holds. None when the orders were all placed before the sheet
/// was full: then the plan says nothing about the sheet.
std::optional<RingYield> ring_yield(const Plan& plan, double web_mm);

/// What bars the places where a ring could be cut.
struct BarredShare {
  std::string cause;  // "dry_spot", "pinhole", "resin_rich", "weave", "not_judged", "taken"
  double percent =
      0.0;  // of the places where saw and ring lie inside the outline; a place barred twice counts half each
};
/// Looks at every place of a grid of `step_mm`; `reach_mm` is e, by which the ring's annulus grows both ways. Largest
/// first; empty when no place lies inside. Thin zones are left out: they bar some rings only.
std::vector<BarredShare> barred_shares(const UsableMap& map, double inner_radius_mm, double outer_radius_mm,
                                       double saw_radius_mm, double reach_mm, double step_mm = 3.0);

}  // namespace sheetloupe
