#include "cli/program.h"

#include <algorithm>
#include <iostream>
#include <iterator>

#include "cli/commands.h"
#include "cli/support/command_tree.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/strict_json.h"
#include "sheetloupe/io/version.h"

namespace sheetloupe::cli {
namespace {

// In the order in which a newcomer needs them; --help lists them so.
constexpr std::initializer_list<Register> kCommands = {
    add_strips_command, add_new_command,        add_inspect_command, add_edge_command,
    add_place_command,  add_log_command,        add_trend_command,   add_watch_command,
    add_demo_command,   add_completion_command, add_man_command,
};

// What a bare `sheetloupe` says: what it is for and the way through it, in the order of a sheet's life.
constexpr const char* kWelcome =
    "sheetloupe looks at a hand-laid carbon sheet before you saw it: from phone photos it measures the\n"
    "sheet, finds dry spots and pinholes, follows the tows, and plans where to drill rings.\n"
    "\n"
    "See it work on an invented sheet:\n"
    "  sheetloupe demo demo                      then open demo/H-001/loupe/report.html\n"
    "\n"
    "Your own sheet:\n"
    "  1  sheetloupe strips -o strips.pdf        print at 100 %, cut out, tape around the sheet, photograph\n"
    "  2  sheetloupe new H-014 PHOTO ...         lay the photos into a folder; say what you know in sheet.json\n"
    "  3  sheetloupe inspect H-014               then open H-014/loupe/report.html\n"
    "  4  sheetloupe place H-014 --orders orders.json      plan the rings, print the drilling template\n"
    "  5  sheetloupe log add H-014               keep the sheet in the log; how its rings came out later\n"
    "  6  sheetloupe trend                       what the logged sheets say about the next one\n"
    "\n"
    "  sheetloupe watch DIR                      inspect sheets by themselves as photos arrive\n"
    "\n"
    "Every command has --help with units and an example. All commands: sheetloupe --help\n"
    "Carbon dust harms lungs and skin: cut wet, with a fitted respirator. This program certifies nothing.\n";

// What was wrong on the command line, in one line; then the command's own example.
int refuse(const CLI::App& app, const CLI::ParseError& error, const std::vector<std::string>& arguments,
           std::ostream& err) {
  const CLI::App* command = &app;
  std::string path = "sheetloupe";
  for (const std::string& word : arguments) {
    const std::vector<const CLI::App*> known = commands_of(*command);
    if (word.starts_with('-') || known.empty()) break;
    const auto named = std::find_if(known.begin(), known.end(), [&](const auto* c) { return c->get_name() == word; });
    if (named == known.end()) {
      std::vector<std::string> names;
      for (const CLI::App* one : known) names.push_back(one->get_name());
      err << path << ": no command \"" << word << "\"; perhaps \"" << nearest_name(word, names)
          << "\". All commands: " << path << " --help\n";
      return kBadInput;
    }
    command = *named;
    path += " " + word;
  }
  err << path << ": " << error.what() << '\n';
  const std::string footer = command->get_footer();
  if (footer.starts_with("Example")) err << footer.substr(0, footer.find('\n')) << '\n';
  err << "Units, defaults and all options: " << path << " --help\n";
  return kBadInput;
}

}  // namespace

int run_program(const std::vector<std::string>& arguments, Streams streams) {
  CLI::App app("Measures hand-laid carbon-fibre sheets from phone photos and plans ring blanks on them.", "sheetloupe");
  app.set_version_flag("--version", version_text());
  app.require_subcommand(0, 1);
  app.footer(
      "sheetloupe without a command shows the way from photos to rings.\n"
      "For your shell: sheetloupe completion bash (zsh, fish), sheetloupe man");
  std::vector<std::pair<const CLI::App*, Run>> commands;
  for (const Register add : kCommands) {
    const std::size_t before = commands_of(app).size();
    Run run = add(app);
    commands.emplace_back(commands_of(app).at(before), std::move(run));
  }
  try {
    app.parse(std::vector<std::string>(arguments.rbegin(), arguments.rend()));
  } catch (const CLI::ParseError& e) {
    if (e.get_exit_code() == static_cast<int>(CLI::ExitCodes::Success)) {  // --help, --version
      app.exit(e, streams.out, streams.err);
      return kDone;
    }
    return refuse(app, e, arguments, streams.err);
  }
  try {
    for (const auto& [command, run] : commands) {
      if (command->parsed()) return run(streams);
    }
    streams.out << kWelcome;
    return kDone;
  } catch (const InputError& e) {
    streams.err << "sheetloupe: " << e.what() << '\n';
    return kBadInput;
  }
}

}  // namespace sheetloupe::cli
