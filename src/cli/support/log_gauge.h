// `sheetloupe log gauge`, a part of the log command.
#pragma once

#include <string>
#include <vector>

#include "cli/program.h"

namespace sheetloupe::cli {

/// Exit status; `folders`: inspected sheet folders, several of each sheet.
int run_gauge(const std::vector<std::string>& folders, bool json, const Streams& streams);

}  // namespace sheetloupe::cli
