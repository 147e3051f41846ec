// Every command, one line each; each lives in the file of its name.
#pragma once

#include "cli/program.h"

namespace sheetloupe::cli {

// In the order in which a newcomer needs them; --help lists them so.

}  // namespace sheetloupe::cli
