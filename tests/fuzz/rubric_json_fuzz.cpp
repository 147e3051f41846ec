#include <cstdint>
#include <string_view>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/rubric_json.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  try {
    sheetloupe::parse_rubric(std::string_view(reinterpret_cast<const char*>(data), size), "fuzz");
  } catch (const sheetloupe::InputError&) {
  }
  return 0;
}
