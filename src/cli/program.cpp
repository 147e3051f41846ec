#include "cli/program.h"

#include <iostream>
#include <iterator>

#include "cli/commands.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/version.h"

namespace sheetloupe::cli {
namespace {

// In the order in which a newcomer needs them; --help lists them so.
constexpr std::initializer_list<Register> kCommands = {
    add_strips_command,
    add_new_command,
    add_inspect_command,
    add_place_command,
    add_log_command,
    add_watch_command,
    add_demo_command,
};

}  // namespace

int run_program(const std::vector<std::string>& arguments, Streams streams) {
  CLI::App app("Measures hand-laid carbon-fibre sheets from phone photos and plans ring blanks on them.", "sheetloupe");
  app.set_version_flag("--version", version_text());
  app.require_subcommand(0, 1);
  std::vector<std::pair<CLI::App*, Run>> commands;
  for (const Register add : kCommands) {
    const auto before = app.get_subcommands([](CLI::App*) { return true; }).size();
    Run run = add(app);
    commands.emplace_back(app.get_subcommands([](CLI::App*) { return true; }).at(before), std::move(run));
  }
  try {
    app.parse(std::vector<std::string>(arguments.rbegin(), arguments.rend()));
  } catch (const CLI::ParseError& e) {
    return app.exit(e, streams.out, streams.err) == 0 ? kDone : kBadInput;
  }
  try {
    for (const auto& [command, run] : commands) {
      if (command->parsed()) return run(streams);
    }
    streams.out << app.help();
    return kDone;
  } catch (const InputError& e) {
    streams.err << "sheetloupe: " << e.what() << '\n';
    return kBadInput;
  }
}

}  // namespace sheetloupe::cli
