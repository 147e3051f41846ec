// Completion scripts for the three shells, from the tree of commands.
#pragma once

#include <string>

#include "cli/support/command_tree.h"

namespace sheetloupe::cli {

std::string bash_completion(const CommandText& program);
std::string zsh_completion(const CommandText& program);
std::string fish_completion(const CommandText& program);

}  // namespace sheetloupe::cli
