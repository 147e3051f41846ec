#include <algorithm>
#include <cmath>

#include "io/report/json_figures.h"
#include "io/report/json_reading.h"
#include "sheetloupe/io/grade_json.h"

namespace sheetloupe {
namespace {

using reading::list;
using reading::member;
using reading::text;

double number(const Json& json, const char* key, double otherwise = 0.0) {
  return reading::number(json, key).value_or(otherwise);
}

DefectLabel kind_of(const std::string& name) {
  for (const DefectLabel label : {DefectLabel::pinhole, DefectLabel::dry_spot}) {
    if (name == name_of(label)) return label;
  }
  return DefectLabel::resin_rich;
}

void read_defects(const Json& defects, GradeFace& face) {
  face.judged = defects.contains("judged_fraction") && defects.contains("smallest_pinhole_mm");
  face.not_judged_reason = text(defects, "reason");
  face.judged_share = 100 * number(defects, "judged_fraction");
  face.smallest_pinhole_mm = number(defects, "smallest_pinhole_mm");
  for (const Json& item : list(defects, "items")) {
    const Json centre = list(item, "centre_mm");
    GradeDefect d;
    d.id = text(item, "id");
    d.kind = kind_of(text(item, "kind"));
    if (centre.size() == 2) d.centre = {centre[0].get<double>(), centre[1].get<double>()};
    d.diameter_mm = number(item, "max_diameter_mm");
    d.area_mm2 = number(item, "area_mm2");
    d.area_u95_mm2 = number(item, "area_u95_mm2");
    d.confidence = std::clamp(number(item, "confidence", 1.0), 0.0, 1.0);
    face.defects.push_back(d);
  }
}

std::vector<std::optional<double>> turns(const Json& values) {
  std::vector<std::optional<double>> result;
  for (const Json& v : values) result.push_back(v.is_number() ? std::optional(v.get<double>()) : std::nullopt);
  return result;
}

void read_weave(const Json& weave, GradeFace& face) {
  face.weave_found = weave.contains("deviation_deg");
  face.weave_reason = text(weave, "reason");
  if (!face.weave_found) return;
  const Json& deviation = member(weave, "deviation_deg");
  face.turn_p95_deg = std::max(number(deviation, "warp_p95"), number(deviation, "weft_p95"));
  face.shear_p95_deg = number(member(weave, "shear_deg"), "p95_abs");
  face.local_u95_deg = number(weave, "local_u95_deg");
  const Json& reading = member(weave, "reading");
  TurnGrid grid;
  grid.step_mm = number(reading, "step_mm", 5.0);
  const Json origin = list(reading, "origin_mm");
  if (origin.size() == 2) grid.origin = {origin[0].get<double>(), origin[1].get<double>()};
  grid.columns = static_cast<int>(number(reading, "columns"));
  grid.rows = static_cast<int>(number(reading, "rows"));
  grid.warp_deg = turns(list(reading, "warp_turn_deg"));
  grid.weft_deg = turns(list(reading, "weft_turn_deg"));
  const auto cells =
      static_cast<std::size_t>(std::max(0, grid.columns)) * static_cast<std::size_t>(std::max(0, grid.rows));
  if (grid.warp_deg.size() == cells && grid.weft_deg.size() == cells) face.turns = std::move(grid);
}

GradeFace face_of(const Json& json) {
  GradeFace face;
  face.role = text(json, "role");
  face.measured = text(json, "status") == "measured";
  face.reason = text(json, "reason");
  if (!face.measured) return face;
  face.width_mm = number(member(json, "outline"), "width_mm");
  face.height_mm = number(member(json, "outline"), "height_mm");
  read_defects(member(json, "defects"), face);
  read_weave(member(json, "weave"), face);
  return face;
}

GradeEdge edge_of(const Json& json) {
  GradeEdge edge;
  edge.side = text(json, "side");
  const Json& thickness = member(json, "thickness_mm");
  if (thickness.contains("max") && thickness["max"].is_number() && thickness["min"].is_number()) {
    edge.spread_mm = thickness["max"].get<double>() - thickness["min"].get<double>();
    // Least and most are two readings of the same scale, each with the mean's error.
    edge.spread_u95_mm = std::sqrt(2.0) * number(thickness, "u95");
    edge.longest_split_mm = 0.0;
    for (const Json& mark : list(json, "delaminations"))
      edge.longest_split_mm = std::max(*edge.longest_split_mm, number(mark, "to_mm") - number(mark, "from_mm"));
  }
  const Json& laid = member(json, "laid");
  const Json range = list(json, "plies_range");
  if (laid.contains("plies") && laid["plies"].is_number() && range.size() == 2) {
    const int plies = laid["plies"].get<int>();
    const int a = std::abs(range[0].get<int>() - plies), b = std::abs(range[1].get<int>() - plies);
    edge.plies_off = {std::min(a, b), std::max(a, b)};
  }
  return edge;
}

}  // namespace

GradeInput grade_input(const Json& report, const Json& blanks) {
  GradeInput input;
  for (const Json& face : list(report, "faces")) input.faces.push_back(face_of(face));
  for (const Json& edge : list(report, "edges")) input.edges.push_back(edge_of(edge));
  const Json& usable = member(report, "usable");
  if (usable.contains("fraction") && usable["fraction"].is_number())
    input.usable_share = 100 * usable["fraction"].get<double>();
  if (usable.contains("fraction_u95") && usable["fraction_u95"].is_number())
    input.usable_share_u95 = 100 * usable["fraction_u95"].get<double>();
  if (!blanks.is_object()) return input;
  const Json& yield = member(blanks, "yield");
  if (yield.contains("percent") && yield["percent"].is_number()) {
    input.yield = RingYield{static_cast<int>(number(yield, "good")), yield["percent"].get<double>()};
  } else {
    input.no_yield_reason = text(yield, "reason");
  }
  return input;
}

}  // namespace sheetloupe
