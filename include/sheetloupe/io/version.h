// The program's version, as --version and every report print it.
#pragma once

#include <string>

namespace sheetloupe {

/// "0.1.0 (1a2b3c4d5)"; without the commit when built from sources outside git.
std::string version_text();

}  // namespace sheetloupe
