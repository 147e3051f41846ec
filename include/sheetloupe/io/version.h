// The program's version, as --version and every report print it.
#pragma once

#include <string>

namespace sheetloupe {

std::string version_text();

}  // namespace sheetloupe
