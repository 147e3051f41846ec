// What a shell wants to know of the program: completion scripts and the manual page. Both commands stay out of --help.
#include <memory>
#include <ostream>

#include "cli/commands.h"
#include "cli/support/completion.h"
#include "cli/support/man_page.h"
#include "sheetloupe/io/version.h"

namespace sheetloupe::cli {

Run add_completion_command(CLI::App& app) {
  auto shell = std::make_shared<std::string>();
  CLI::App* command = app.add_subcommand("completion", "Print the completion script of a shell");
  command->group("");
  command->footer("Example: sheetloupe completion bash > ~/.local/share/bash-completion/completions/sheetloupe");
  command->add_option("SHELL", *shell, "bash, zsh or fish")->required()->check(CLI::IsMember({"bash", "zsh", "fish"}));
  return [shell, &app](Streams streams) {
    const CommandText tree = command_tree(app);
    streams.out << (*shell == "bash"  ? bash_completion(tree)
                    : *shell == "zsh" ? zsh_completion(tree)
                                      : fish_completion(tree));
    return static_cast<int>(kDone);
  };
}

Run add_man_command(CLI::App& app) {
  CLI::App* command = app.add_subcommand("man", "Print the manual page");
  command->group("");
  command->footer("Example: sheetloupe man > ~/.local/share/man/man1/sheetloupe.1");
  return [&app](Streams streams) {
    streams.out << man_page(command_tree(app), version_text());
    return static_cast<int>(kDone);
  };
}

}  // namespace sheetloupe::cli
