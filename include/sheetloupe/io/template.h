// The drilling template, 1:1: PDF tiled over pages, or one SVG in mm.
#pragma once

#include <string>

#include "sheetloupe/placement.h"
#include "sheetloupe/usable.h"

namespace sheetloupe {

struct TemplateOptions {
  bool letter = false;       // paper; else A4
  bool back = false;         // mirrored, to lie on the back
  double print_scale = 1.0;  // the strips' own print scale when the same printer is used, [0.95, 1.05]
};

std::string template_pdf(const UsableMap& map, const Plan& plan, const TemplateOptions& options = {});
/// Groups by id: outline, kerf, centres, labels.
std::string template_svg(const UsableMap& map, const Plan& plan, const TemplateOptions& options = {});

}  // namespace sheetloupe
