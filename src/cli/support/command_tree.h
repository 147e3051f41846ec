// The commands as data, read from the very objects that parse the command line: completion and manual page are made of
// it, so that neither can say another thing than --help.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

namespace sheetloupe::cli {

struct OptionText {
  std::vector<std::string> names;  // "--out", "-o"; for a positional its name alone
  std::string help, default_text;
  std::vector<std::string> choices;  // of a value that is one of a few words
  bool takes_value = false;
};

struct CommandText {
  std::vector<std::string> path;  // empty for the program, else "log", "add"
  std::string help, footer;
  std::vector<OptionText> options, positionals;
  std::vector<CommandText> commands;  // hidden ones left out
};

CommandText command_tree(const CLI::App& app);

/// The commands right below `app`, hidden ones included, in the order in which they were added.
std::vector<const CLI::App*> commands_of(const CLI::App& app);

/// "front", "back" of CLI11's type name "TEXT:{front,back}"; empty when it holds no such list.
std::vector<std::string> choices_of(const std::string& type_name);

}  // namespace sheetloupe::cli
