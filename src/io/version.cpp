#include "sheetloupe/io/version.h"

namespace sheetloupe {

std::string version_text() { return SHEETLOUPE_VERSION; }

}  // namespace sheetloupe
