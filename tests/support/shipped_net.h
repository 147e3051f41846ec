// The trained nets as they ship. A header alone: where the models lie is known to each test, not to this library.
#pragma once

#include <fstream>
#include <iterator>
#include <string>
#include <vector>

namespace sheetloupe {

/// The bytes of models/`file`; none when it cannot be read.
inline std::vector<unsigned char> shipped_net(const std::string& file) {
  std::ifstream in(MODELS "/" + file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace sheetloupe
