// The manual page, sheetloupe(1), from the same words as --help.
#pragma once

#include <string>

#include "cli/support/command_tree.h"

namespace sheetloupe::cli {

/// roff for man(7).
std::string man_page(const CommandText& program, const std::string& version);

}  // namespace sheetloupe::cli
