// The page's sections, one function each, all made from the JSON model.
#pragma once

#include <string>

#include "io/page/html.h"

namespace sheetloupe::page {

/// What the sections read; any of the three may be null.
struct Model {
  const Json& report;
  const Json& usable;
  const Json& blanks;
};

std::string head(const Model& model);
std::string verdict(const Model& model);
std::string grade_box(const Json& report);      // the boxed letter, or a dotted ring when there is no grade
std::string grade_reasons(const Json& report);  // "Why not A" beside the verdict
std::string grade_table(const Json& report);    // every limit held against the sheet
std::string picture(const Model& model, const std::string& jpeg);  // the plate: photo, layers, rulers, dial, key
std::string found(const Model& model);
std::string weave(const Model& model);
std::string rings(const Model& model);
std::string edges(const Model& model);
std::string advice(const Model& model);
std::string cautions();

/// The data the script reads: shapes to name under the pointer and the weave's coarse grid.
Json script_data(const Model& model);

}  // namespace sheetloupe::page
