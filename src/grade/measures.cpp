#include "grade/measures.h"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace sheetloupe {

const std::vector<MeasureInfo>& all_measures() {
  static const std::vector<MeasureInfo> measures = {
      {Measure::dry_spot_diameter, "dry_spot_diameter_mm", "largest dry spot", "mm", false},
      {Measure::pinhole_diameter, "pinhole_diameter_mm", "largest pinhole", "mm", false},
      {Measure::resin_rich_diameter, "resin_rich_diameter_mm", "largest resin-rich pool", "mm", false},
      {Measure::pinholes_per_dm2, "pinholes_per_dm2", "pinholes", "per dm\u00b2", true},
      {Measure::pinholes_in_zone, "pinholes_in_zone", "pinholes together", "", true},
      {Measure::dry_spot_share, "dry_spot_share_percent", "dry area", "%", true},
      {Measure::resin_rich_share, "resin_rich_share_percent", "resin-rich area", "%", true},
      {Measure::tow_turn_p95, "tow_turn_p95_deg", "tows out of line", "\u00b0", true},
      {Measure::shear_p95, "shear_p95_deg", "cloth out of square", "\u00b0", false},
      {Measure::split_length, "split_length_mm", "longest split on an edge", "mm", false},
      {Measure::thickness_spread, "thickness_spread_mm", "thickness spread on an edge", "mm", false},
      {Measure::plies_off, "plies_off", "plies off the number laid", "", false},
      {Measure::usable_share, "usable_percent", "usable share of the sheet", "%", false},
      {Measure::ring_yield, "ring_yield_percent", "ring yield", "%", false},
  };
  return measures;
}

const MeasureInfo& info_of(Measure measure) { return all_measures()[static_cast<std::size_t>(measure)]; }

std::optional<RingYield> ring_yield(const Plan& plan, double web_mm) {
  if (plan.stopped_by == "complete" || plan.bound_flawless <= 0 || plan.blanks.empty()) return {};
  // Hexagonal rows give each blank the area of a disc of saw + web: blanks of mixed saws are counted in discs of the
  // smallest saw, the unit of the flawless figure.
  double smallest = plan.blanks.front().saw_outer_mm, area = 0.0;
  for (const Blank& b : plan.blanks) smallest = std::min(smallest, b.saw_outer_mm);
  for (const Blank& b : plan.blanks) area += std::pow((b.saw_outer_mm + web_mm) / (smallest + web_mm), 2);
  return RingYield{static_cast<int>(plan.blanks.size()), std::min(100.0, 100.0 * area / plan.bound_flawless)};
}

}  // namespace sheetloupe

namespace sheetloupe::grading {
namespace {

Figure exact(std::optional<double> value, std::string where, std::string reason) {
  Figure figure;
  figure.value = value;
  figure.low = figure.high = value.value_or(0.0);
  figure.where = std::move(where);
  if (!value) figure.reason = std::move(reason);
  return figure;
}

Figure usable_figure(const GradeInput& input) {
  Figure figure = exact(input.usable_share, "", "no usable map could be made");
  if (!figure.value || !input.usable_share_u95) return figure;
  figure.u95 = input.usable_share_u95;
  figure.low = std::max(0.0, *figure.value - *figure.u95);
  figure.high = std::min(100.0, *figure.value + *figure.u95);
  return figure;
}

Figure yield_figure(const GradeInput& input) {
  if (!input.yield)
    return exact({}, "", input.no_yield_reason.empty() ? "no rings were planned yet" : input.no_yield_reason);
  return exact(input.yield->share, std::to_string(input.yield->good) + " good blanks", "");
}

}  // namespace

Figure measure(const GradeInput& input, const Limit& limit) {
  switch (limit.measure) {
    case Measure::dry_spot_diameter:
      return largest_defect(input, DefectLabel::dry_spot);
    case Measure::pinhole_diameter:
      return largest_defect(input, DefectLabel::pinhole);
    case Measure::resin_rich_diameter:
      return largest_defect(input, DefectLabel::resin_rich);
    case Measure::pinholes_per_dm2:
    case Measure::pinholes_in_zone:
    case Measure::dry_spot_share:
    case Measure::resin_rich_share:
      return defect_load(input, limit);
    case Measure::tow_turn_p95:
    case Measure::shear_p95:
      return turn(input, limit);
    case Measure::split_length:
    case Measure::thickness_spread:
    case Measure::plies_off:
      return edge_figure(input, limit.measure);
    case Measure::usable_share:
      return usable_figure(input);
    case Measure::ring_yield:
      return yield_figure(input);
  }
  assert(false);
  return {};
}

}  // namespace sheetloupe::grading
