// The whole way from a file's bytes to an upright picture; only InputError may come out.
#include <cstdint>
#include <string_view>

#include "io/photo/picture_size.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/images.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  // A header may ask for a hundred megapixels, which take the sanitizers half a minute and tell nothing more.
  constexpr double kMost = 1;
  if (sheetloupe::read_picture_header(bytes).megapixels.value_or(0) > kMost) return 0;
  try {
    sheetloupe::photo_from_bytes(bytes, "fuzz");
  } catch (const sheetloupe::InputError&) {
  }
  return 0;
}
