// The page's sections, one function each, all made from the JSON model.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "io/page/html.h"

namespace sheetloupe::page {

/// A picture to embed: JPEG bytes and the size in pixels that the report's figures refer to.
struct Picture {
  std::string jpeg;
  int columns = 0, rows = 0;
};

/// What the sections read. `usable` and `blanks` may be null values.
struct Model {
  const Json& report;
  const Json& usable;
  const Json& blanks;
  /// "front_flat", "back_flat", "edge-top" and so on; any may be missing.
  const std::map<std::string, Picture>& pictures;
};

std::string head(const Model& model);
std::string verdict(const Model& model);
std::vector<std::string> grade_reasons(const Json& report);  // why it is no better, at most three; none without a grade
std::string grade_table(const Json& report);                 // every limit held against the sheet
std::string picture(const Model& model);                     // the plate: photo, layers, rulers, dial, key
std::string found(const Model& model);
std::string weave(const Model& model);
std::string rings(const Model& model);
std::string edges(const Model& model);
std::string laminate(const Model& model);
std::string limits(const Model& model);  // what the photos could not show
std::string shooting(const Model& model);
std::string cautions();
std::string where_the_time_went(const Json& times);  // of times.json; nothing without it

/// The data the script reads: shapes to name under the pointer and the weave's coarse grid.
Json script_data(const Model& model);

}  // namespace sheetloupe::page
