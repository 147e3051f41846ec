#include "sheetloupe/io/version.h"

namespace sheetloupe {

std::string version_text() {
  const std::string commit = SHEETLOUPE_COMMIT;
  return commit.empty() ? SHEETLOUPE_VERSION : SHEETLOUPE_VERSION " (" + commit + ")";
}

}  // namespace sheetloupe
