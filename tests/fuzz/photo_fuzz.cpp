// The whole way from a file's bytes to an upright picture; only InputError may come out.
#include <cstdint>
#include <string_view>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/images.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  try {
    sheetloupe::photo_from_bytes(std::string_view(reinterpret_cast<const char*>(data), size), "fuzz");
  } catch (const sheetloupe::InputError&) {
  }
  return 0;
}
