#include "sheetloupe/io/models.h"

#include <sys/auxv.h>

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

fs::path program_path() {
  std::error_code error;
  fs::path program = fs::read_symlink("/proc/self/exe", error);
  if (!error) return program;
  // Where /proc is not mounted: the name that the kernel was given, handed over as a number.
  const auto* name = reinterpret_cast<const char*>(getauxval(AT_EXECFN));  // NOLINT(performance-no-int-to-ptr)
  return name ? fs::canonical(name, error) : fs::path();
}

fs::path models_folder() {
  std::error_code error;
  const fs::path program = program_path();
  const fs::path installed = program.parent_path().parent_path() / "share" / "sheetloupe" / "models";
  return program.is_absolute() && fs::is_directory(installed, error) ? installed : fs::path(SHEETLOUPE_SOURCE_MODELS);
}

}  // namespace

fs::path model_path(const std::string& name) {
  static const fs::path folder = models_folder();
  return folder / name;
}

}  // namespace sheetloupe
