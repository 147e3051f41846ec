#include "cli/support/command_tree.h"

namespace sheetloupe::cli {
namespace {

OptionText option_text(const CLI::Option& option) {
  OptionText text;
  for (const std::string& name : option.get_lnames()) text.names.push_back("--" + name);
  for (const std::string& name : option.get_snames()) text.names.push_back("-" + name);
  if (text.names.empty()) text.names.push_back(option.get_name(true));
  text.help = option.get_description();
  text.default_text = option.get_default_str();
  text.takes_value = option.get_items_expected_max() > 0;
  text.choices = choices_of(option.get_type_name());
  return text;
}

CommandText node(const CLI::App& app, std::vector<std::string> path) {
  CommandText text;
  text.path = std::move(path);
  text.help = app.get_description();
  text.footer = app.get_footer();
  for (const CLI::Option* option : app.get_options()) {
    const bool positional = option->get_lnames().empty() && option->get_snames().empty();
    (positional ? text.positionals : text.options).push_back(option_text(*option));
  }
  for (const CLI::App* command : commands_of(app)) {
    if (command->get_group().empty()) continue;  // hidden
    std::vector<std::string> below = text.path;
    below.push_back(command->get_name());
    text.commands.push_back(node(*command, below));
  }
  return text;
}

}  // namespace

std::vector<std::string> choices_of(const std::string& type_name) {
  const std::size_t open = type_name.find('{'), close = type_name.find('}', open);
  if (open == std::string::npos || close == std::string::npos) return {};
  std::vector<std::string> choices;
  std::string word;
  for (std::size_t i = open + 1; i <= close; ++i) {
    if (type_name[i] != ',' && i != close) {
      word += type_name[i];
    } else if (!word.empty()) {
      choices.push_back(word);
      word.clear();
    }
  }
  return choices;
}

CommandText command_tree(const CLI::App& app) { return node(app, {}); }

std::vector<const CLI::App*> commands_of(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App*) { return true; });
}

}  // namespace sheetloupe::cli
