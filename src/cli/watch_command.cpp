#include <chrono>
#include <map>
#include <memory>
#include <ostream>
#include <set>
#include <thread>

#include "cli/commands.h"
#include "cli/support/stop_signal.h"
#include "sheetloupe/io/folder_watch.h"
#include "sheetloupe/io/sheets_page.h"

namespace sheetloupe::cli {
namespace {

struct WatchArguments {
  std::string directory;
  double interval_s = 2.0;
  bool once = false;
};

double now_s() { return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count(); }

void wait(double seconds, const StopSignal& stop) {
  const double end = now_s() + seconds;
  while (now_s() < end && !stop.asked()) std::this_thread::sleep_for(std::chrono::milliseconds(50));
}

// Photos outside any sheet folder are named once each: the program does not guess which sheet they show.
void tell_loose(const FolderWatch& watch, const std::string& directory, std::set<std::string>& told,
                const Streams& streams) {
  for (const std::string& name : watch.loose_photos()) {
    if (told.insert(name).second)
      streams.out << name << " lies in no sheet folder. Lay it into one: sheetloupe new " << directory << "/H-014 "
                  << directory << "/" << name << std::endl;
  }
}

int inspect_folder(const WatchEvent& event, const Streams& streams) {
  if (!event.problem.empty()) {
    streams.out << "Waiting: " << event.problem << std::endl;
    return kPartlyAnswered;
  }
  streams.out << "Inspecting " << event.folder.string() << std::endl;
  const int status = run_program({"inspect", event.folder.string()}, streams);
  return status == kDone ? kDone : kPartlyAnswered;
}

int run_watch(const WatchArguments& a, const Streams& streams) {
  FolderWatch watch(a.directory, a.interval_s);
  const StopSignal stop;
  std::set<std::string> told;
  std::map<std::string, std::string> waiting;  // by folder name
  int status = kDone;
  const bool many = !watch.is_one_sheet();
  if (many) write_sheets_page(a.directory, waiting);
  if (!a.once) {
    streams.out << "Watching " << a.directory << ". Ctrl-C ends." << std::endl;
    if (many) streams.out << "Page: " << a.directory << "/sheets.html, refreshed as sheets come in" << std::endl;
  }
  while (!stop.asked()) {
    for (const WatchEvent& event : watch.look(now_s())) {
      if (stop.asked()) break;
      status = std::max(status, inspect_folder(event, streams));
      const std::string name = event.folder.filename().string();
      waiting.erase(name);
      if (!event.problem.empty()) waiting[name] = event.problem;
      if (many) write_sheets_page(a.directory, waiting);
    }
    tell_loose(watch, a.directory, told, streams);
    if (a.once && !watch.unsettled()) return status;
    wait(a.interval_s, stop);
  }
  streams.out << "Ended." << std::endl;
  return kDone;
}

}  // namespace

Run add_watch_command(CLI::App& app) {
  auto arguments = std::make_shared<WatchArguments>();
  CLI::App* command = app.add_subcommand("watch", "Inspect sheet folders as their photos arrive");
  command->footer(
      "Example: sheetloupe watch ~/Sheets\nA folder with front.jpg in it is a sheet. It is inspected when no photo "
      "and no sheet.json in it\nhas changed for the interval and every photo decodes to its end; again when one "
      "changes or is added.\nDIR/sheets.html lists the sheets and refreshes itself. What was inspected before is left "
      "alone. Ctrl-C ends after the sheet in hand, twice at "
      "once.");
  command->add_option("DIR", arguments->directory, "Folder in which the sheet folders lie, or one sheet folder")
      ->required();
  command
      ->add_option("--interval", arguments->interval_s,
                   "Seconds between two looks, and for which a folder must lie still")
      ->check(CLI::Range(0.1, 3600.0))
      ->capture_default_str();
  command->add_flag("--once", arguments->once, "Inspect what is there and end");
  return [arguments](Streams streams) { return run_watch(*arguments, streams); };
}

}  // namespace sheetloupe::cli
