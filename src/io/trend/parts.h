// The parts of the trend model, one function each; every part has "enough", "reason" when not, and "sentence".
#pragma once

#include <string>
#include <vector>

#include "io/report/json_figures.h"
#include "sheetloupe/io/log.h"

namespace sheetloupe::trend_page_parts {

/// A measure that is charted and held against the recipe.
struct Charted {
  const char* name;
  const char* words;  // "pinholes per dm2"
  const char* title;
  const char* gloss;
  int better;  // +1: more is better, -1: less is, 0: neither
  bool from_zero;
};
const std::vector<Charted>& charted();
const MeasureName& measure_name(const std::string& name);

Json charts(const std::vector<LogRow>& rows);
Json barred(const std::vector<LogRow>& rows);
Json spoiled(const std::vector<LogOutcome>& outcomes);
Json density(const std::vector<LogRow>& rows);
Json effects(const std::vector<LogRow>& rows);
Json forecast(const std::vector<LogRow>& rows);

/// "1.2" with a true minus sign; `sign`: a plus too.
std::string text(double value, int digits, bool sign = false);
std::string cause_words(const std::string& cause);
std::string recipe_words(const std::string& key);

}  // namespace sheetloupe::trend_page_parts
