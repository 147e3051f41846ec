#include <cstdint>
#include <string_view>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/sheet_folder.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  try {
    sheetloupe::parse_sheet_facts(std::string_view(reinterpret_cast<const char*>(data), size), "fuzz", "H-001");
  } catch (const sheetloupe::InputError&) {
  }
  return 0;
}
