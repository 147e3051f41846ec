// The grade of a report: read from report.json's own figures, so that `inspect` and `place` judge alike.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "sheetloupe/grade.h"

namespace sheetloupe {

/// What report.json and blanks.json (may be null) say that a rubric can limit.
GradeInput grade_input(const nlohmann::ordered_json& report, const nlohmann::ordered_json& blanks);

/// "rubric", "grade" ("A", "B", "C" or "not graded"), "reasons", and every limit with value, u95 and source.
nlohmann::ordered_json grade_to_json(const Grade& grade, const Rubric& rubric);

/// `report` with its "grade" set anew.
void put_grade(nlohmann::ordered_json& report, const nlohmann::ordered_json& blanks, const Rubric& rubric);

/// The rubric that a report was graded by; the default one when it has none.
Rubric rubric_of_report(const nlohmann::ordered_json& report);

/// "yield" of blanks.json: good blanks, their share of a flawless sheet, and what bars ring places on this map.
nlohmann::ordered_json yield_to_json(const Plan& plan, const Orders& orders, const UsableMap& map);

}  // namespace sheetloupe
