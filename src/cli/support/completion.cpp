#include "cli/support/completion.h"

namespace sheetloupe::cli {
namespace {

std::string joined(const std::vector<std::string>& words, const std::string& between) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : between) + word;
  return text;
}

// "a b" for the command "a b", "" for the program itself.
std::string path_of(const CommandText& command) { return joined(command.path, " "); }

template <class Visit>
void each_command(const CommandText& command, Visit visit) {
  visit(command);
  for (const CommandText& below : command.commands) each_command(below, visit);
}

std::vector<std::string> command_names(const CommandText& command) {
  std::vector<std::string> names;
  for (const CommandText& below : command.commands) names.push_back(below.path.back());
  return names;
}

std::vector<std::string> option_names(const CommandText& command) {
  std::vector<std::string> names;
  for (const OptionText& option : command.options) names.insert(names.end(), option.names.begin(), option.names.end());
  return names;
}

// Words inside single quotes of a shell; zsh reads brackets and colons in a description as its own.
std::string quoted(const std::string& text, const std::string& also_escape = "") {
  std::string out;
  for (const char c : text) {
    if (c == '\'')
      out += "'\\''";
    else if (c == '\n')
      out += ' ';
    else
      out += also_escape.find(c) == std::string::npos ? std::string(1, c) : std::string("\\") + c;
  }
  return out;
}

std::string zsh_function(const CommandText& command) {
  return "_" + joined(
                   [&] {
                     std::vector<std::string> words = {"sheetloupe"};
                     words.insert(words.end(), command.path.begin(), command.path.end());
                     return words;
                   }(),
                   "_");
}

std::string zsh_argument(const OptionText& option) {
  std::string lines;
  for (const std::string& name : option.names) {
    lines += " \\\n    '" + name + "[" + quoted(option.help, "[]:\\") + "]";
    if (option.takes_value)
      lines += option.choices.empty() ? ":value:_files" : ":value:(" + joined(option.choices, " ") + ")";
    lines += "'";
  }
  return lines;
}

}  // namespace

std::string bash_completion(const CommandText& program) {
  std::string paths, values, options, commands;
  each_command(program, [&](const CommandText& command) {
    const std::string path = path_of(command);
    if (!path.empty()) paths += "      \"" + path + "\") path=\"" + path + "\" ;;\n";
    for (const OptionText& option : command.options) {
      if (option.choices.empty()) continue;
      for (const std::string& name : option.names)
        values += "    \"" + path + " " + name + "\") COMPREPLY=($(compgen -W \"" + joined(option.choices, " ") +
                  "\" -- \"$cur\")); return ;;\n";
    }
    options += "      \"" + path + "\") list=\"" + joined(option_names(command), " ") + "\" ;;\n";
    if (!command.commands.empty())
      commands += "    \"" + path + "\") COMPREPLY=($(compgen -W \"" + joined(command_names(command), " ") +
                  "\" -- \"$cur\")); return ;;\n";
  });
  return "# bash completion of sheetloupe\n_sheetloupe() {\n"
         "  local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} path=\"\" list=\"\" i\n"
         "  for ((i = 1; i < COMP_CWORD; i++)); do\n"
         "    case \"${path:+$path }${COMP_WORDS[i]}\" in\n" +
         paths + "    esac\n  done\n  case \"$path $prev\" in\n" + values +
         "  esac\n  if [[ $cur == -* ]]; then\n    case \"$path\" in\n" + options +
         "    esac\n    COMPREPLY=($(compgen -W \"$list\" -- \"$cur\"))\n    return\n  fi\n  case \"$path\" in\n" +
         commands +
         "  esac\n  COMPREPLY=($(compgen -f -- \"$cur\"))\n}\n"
         "complete -o filenames -F _sheetloupe sheetloupe\n";
}

std::string zsh_completion(const CommandText& program) {
  std::string text = "#compdef sheetloupe\n# zsh completion of sheetloupe\n";
  each_command(program, [&](const CommandText& command) {
    text += zsh_function(command) + "() {\n";
    std::string arguments;
    for (const OptionText& option : command.options) arguments += zsh_argument(option);
    if (command.commands.empty()) {
      text += "  _arguments" + arguments + " \\\n    '*:file:_files'\n}\n";
      return;
    }
    text += "  local context state line\n  typeset -A opt_args\n  _arguments -C" + arguments +
            " \\\n    '1:command:->command' \\\n    '*::argument:->arguments'\n  case $state in\n    command)\n"
            "      local -a commands=(\n";
    for (const CommandText& below : command.commands)
      text += "        '" + below.path.back() + ":" + quoted(below.help, ":\\") + "'\n";
    text += "      )\n      _describe command commands ;;\n    arguments)\n      case $words[1] in\n";
    for (const CommandText& below : command.commands)
      text += "        " + below.path.back() + ") " + zsh_function(below) + " ;;\n";
    text += "      esac ;;\n  esac\n}\n";
  });
  return text +
         "if [ \"$funcstack[1]\" = _sheetloupe ]; then\n  _sheetloupe \"$@\"\nelse\n  compdef _sheetloupe "
         "sheetloupe\nfi\n";
}

std::string fish_completion(const CommandText& program) {
  std::string text = "# fish completion of sheetloupe\n";
  each_command(program, [&](const CommandText& command) {
    std::string seen;
    for (const std::string& word : command.path)
      seen += (seen.empty() ? "" : "; and ") + std::string("__fish_seen_subcommand_from ") + word;
    const std::string names = joined(command_names(command), " ");
    const std::string none_below =
        command.path.empty() ? "__fish_use_subcommand" : seen + "; and not __fish_seen_subcommand_from " + names;
    for (const CommandText& below : command.commands)
      text += "complete -c sheetloupe -f -n '" + none_below + "' -a " + below.path.back() + " -d '" +
              quoted(below.help) + "'\n";
    for (const OptionText& option : command.options) {
      text +=
          "complete -c sheetloupe" + (seen.empty() ? std::string(" -n __fish_use_subcommand") : " -n '" + seen + "'");
      for (const std::string& name : option.names)
        text += name.starts_with("--") ? " -l " + name.substr(2) : " -s " + name.substr(1);
      if (option.takes_value)
        text += option.choices.empty() ? " -r -F" : " -r -f -a '" + joined(option.choices, " ") + "'";
      text += " -d '" + quoted(option.help) + "'\n";
    }
  });
  return text;
}

}  // namespace sheetloupe::cli
