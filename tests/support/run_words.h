// A whole command as the program runs it, without a process.
#pragma once

#include <sstream>
#include <string>
#include <vector>

#include "cli/program.h"

namespace sheetloupe::cli {

struct Outcome {
  int status;
  std::string out, err;
};

/// `words`: the command line without the program's name. Not on a terminal.
inline Outcome run(const std::vector<std::string>& words) {
  std::ostringstream out, err;
  const int status = run_program(words, {out, err});
  return {status, out.str(), err.str()};
}

}  // namespace sheetloupe::cli
