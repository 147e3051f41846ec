// models/fabrics.json: the cloths known by name.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sheetloupe/fabric.h"

namespace sheetloupe {

/// Throws InputError: unknown keys, a missing or impossible figure, a name given twice.
std::vector<Fabric> parse_fabrics(std::string_view text, const std::string& where);

/// The list that came with the program; empty when it is not there.
const std::vector<Fabric>& known_fabrics();

}  // namespace sheetloupe
