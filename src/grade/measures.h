// One figure a limit: the worst place on the sheet, with the interval that holds the truth.
#pragma once

#include "sheetloupe/grade.h"

namespace sheetloupe::grading {

struct Figure {
  std::optional<double> value;  // none: not measured
  std::optional<double> u95;
  double low = 0.0, high = 0.0;
  std::string where;
  std::string reason;
};

Figure measure(const GradeInput& input, const Limit& limit);

Figure largest_defect(const GradeInput& input, DefectLabel kind);
Figure defect_load(const GradeInput& input, const Limit& limit);
Figure turn(const GradeInput& input, const Limit& limit);
Figure edge_figure(const GradeInput& input, Measure measure);

}  // namespace sheetloupe::grading
