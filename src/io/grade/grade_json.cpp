#include "sheetloupe/io/grade_json.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "io/report/json_figures.h"
#include "sheetloupe/io/rubric_json.h"

namespace sheetloupe {
namespace {

const char* name_of(Verdict verdict) {
  switch (verdict) {
    case Verdict::passes:
      return "passes";
    case Verdict::over:
      return "over";
    case Verdict::too_close_to_call:
      return "too close to call";
    default:
      return "not measured";
  }
}

Json or_null(const std::optional<double>& value, int digits) { return value ? figure(*value, digits) : Json(nullptr); }

Json result_json(const LimitResult& r) {
  const MeasureInfo& info = info_of(r.limit.measure);
  Json json = {{"measure", info.name},
               {"words", info.words},
               {"unit", info.unit},
               {"zone_mm", r.limit.zone_mm ? Json(*r.limit.zone_mm) : Json(nullptr)},
               {"value", or_null(r.value, 2)},
               {"value_u95", or_null(r.u95, 2)}};
  if (r.value) {
    json["low"] = figure(r.low, 2);
    json["high"] = figure(r.high, 2);
  }
  json["where"] = r.where.empty() ? Json(nullptr) : Json(r.where);
  json["reason"] = r.reason.empty() ? Json(nullptr) : Json(r.reason);
  json["rule"] = r.limit.at_least ? "at least" : "at most";
  json["A"] = {{"limit", r.limit.a}, {"verdict", name_of(r.against_a)}};
  json["B"] = {{"limit", r.limit.b}, {"verdict", name_of(r.against_b)}};
  if (r.value) json["grade"] = r.best == r.worst ? std::string(1, r.best) : std::string{r.best, '/', r.worst};
  json["source"] = r.limit.source;
  return json;
}

}  // namespace

Json grade_to_json(const Grade& grade, const Rubric& rubric) {
  Json results = Json::array();
  const Json limits = rubric_to_json(rubric)["limits"];
  for (std::size_t i = 0; i < grade.results.size(); ++i) {
    Json result = result_json(grade.results[i]);
    result["A"]["sure"] = limits[i]["sure"]["A"];
    result["B"]["sure"] = limits[i]["sure"]["B"];
    results.push_back(std::move(result));
  }
  return {{"rubric", grade.rubric},
          {"grade", grade.graded ? std::string(1, grade.letter) : "not graded"},
          {"could_be", grade.graded ? Json(std::string(1, grade.could_be)) : Json(nullptr)},
          {"meaning", grade.graded ? Json(grade.meaning) : Json(nullptr)},
          {"reasons", grade.reasons},
          {"remarks", grade.remarks},
          {"limits", results},
          {"rubric_used", rubric_to_json(rubric)}};
}

void put_grade(Json& report, const Json& blanks, const Rubric& rubric) {
  report["grade"] = grade_to_json(grade_sheet(grade_input(report, blanks), rubric), rubric);
}

Rubric rubric_of_report(const Json& report) {
  const auto grade = report.find("grade");
  if (grade != report.end() && grade->is_object() && grade->contains("rubric_used"))
    return parse_rubric((*grade)["rubric_used"].dump(), "report.json: rubric_used");
  return read_rubric(kDefaultRubric);
}

namespace {

// The ring that most blanks of the plan are for: what bars places depends on its size.
const Blank& commonest(const Plan& plan) {
  std::map<std::string, int> counts;
  for (const Blank& b : plan.blanks) ++counts[b.ring];
  return *std::max_element(plan.blanks.begin(), plan.blanks.end(),
                           [&](const Blank& a, const Blank& b) { return counts[a.ring] < counts[b.ring]; });
}

}  // namespace

Json yield_to_json(const Plan& plan, const Orders& orders, const UsableMap& map) {
  const auto yield = ring_yield(plan, orders.web_mm);
  Json json = {{"good", plan.blanks.size()},
               {"percent", yield ? figure(yield->share, 1) : Json(nullptr)},
               {"reason", yield                 ? Json(nullptr)
                          : plan.blanks.empty() ? Json("no ring could be placed")
                                                : Json("the orders do not fill the sheet")}};
  if (plan.blanks.empty()) return json;
  const Blank& ring = commonest(plan);
  const double reach =
      orders.turning_allowance_mm + std::hypot(map.position_u95_mm, orders.template_mm, orders.drill_wander_mm);
  json["barred_percent"] = Json::object();
  for (const BarredShare& s : barred_shares(map, ring.inner_diameter_mm / 2, ring.outer_diameter_mm / 2,
                                            ring.saw_outer_mm / 2 + orders.edge_margin_mm, reach))
    json["barred_percent"][s.cause] = figure(s.percent, 2);
  return json;
}

}  // namespace sheetloupe
