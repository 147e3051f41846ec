#include "sheetloupe/io/models.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

fs::path models_folder() {
  std::error_code error;
  const fs::path program = fs::read_symlink("/proc/self/exe", error);
  const fs::path installed = program.parent_path().parent_path() / "share" / "sheetloupe" / "models";
  return !error && fs::is_directory(installed, error) ? installed : fs::path(SHEETLOUPE_SOURCE_MODELS);
}

}  // namespace

fs::path model_path(const std::string& name) {
  static const fs::path folder = models_folder();
  return folder / name;
}

}  // namespace sheetloupe
