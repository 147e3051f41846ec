// The drawing of each layer of the plate, in sheet mm.
#pragma once

#include <map>
#include <string>

#include "io/page/sections.h"

namespace sheetloupe::page {

struct Layer {
  std::string shapes;  // SVG
  std::string count;   // what the key says beside the name
  int things = 0;      // 0: the layer is left out of the key
};

/// By layer key: photo, back, map, weave, thin, unj, use, tow, blank, dry, resin, pin.
std::map<std::string, Layer> layers_of(const Model& model);

/// A group that keeps its size at any zoom; the script scales it.
std::string sized(double x, double y, const std::string& inner, const std::string& attributes = "");

/// The outline of the sheet as an SVG path.
std::string outline_path(const Model& model);

}  // namespace sheetloupe::page
