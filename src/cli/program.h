// The command line as a function: a list of words in, an exit status out. main() adds nothing to it, so tests run
// whole commands without a process.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <iosfwd>
#include <string>
#include <vector>

namespace sheetloupe::cli {

/// Exit statuses of the contract, section 8.
enum ExitStatus { kDone = 0, kPartlyAnswered = 1, kBadInput = 2, kBug = 3 };

/// Where a command writes. Results and tables go to `out`, progress and complaints to `err`.
struct Streams {
  std::ostream& out;
  std::ostream& err;
  bool terminal = false;  // progress lines only when a person is watching
};

/// What a command's registration leaves behind: run it when it was named on the command line.
using Run = std::function<int(Streams)>;

/// Adds one command to `app` and returns what runs it. One such function per file, each in `kCommands`.
using Register = Run (*)(CLI::App& app);

/// `arguments` without the program's name.
int run_program(const std::vector<std::string>& arguments, Streams streams);

}  // namespace sheetloupe::cli
