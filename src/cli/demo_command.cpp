#include <memory>
#include <ostream>

#include "cli/commands.h"
#include "sheetloupe/io/demo.h"
#include "sheetloupe/io/log.h"

namespace sheetloupe::cli {
namespace {

// The invented sheets go in once: a second demo in the same folder adds nothing.
void fill_log(const std::filesystem::path& file, const std::filesystem::path& real_sheet, const Streams& streams) {
  run_program({"log", "add", real_sheet.string(), "--db", file.string()}, streams);
  SheetLog log(file, true);
  std::vector<Inspected> fresh;
  for (const Inspected& sheet : demo_log_sheets())
    if (log.add(sheet, sheet.made + "T12:00:00Z").added) fresh.push_back(sheet);
  log.add_outcomes(demo_log_outcomes(fresh));
}

int run_demo(const std::string& folder, const Streams& streams) {
  const std::filesystem::path sheet =
      write_demo(folder, [&](const std::string& what) { streams.err << "  " << what << '\n'; });
  streams.out << "The demo sheet is in " << sheet.string() << '\n';
  const int inspected = run_program({"inspect", sheet.string()}, streams);
  if (inspected == kBadInput) return inspected;
  const int placed = run_program({"place", sheet.string(), "--orders", (sheet / "orders.json").string()}, streams);
  const std::filesystem::path log = std::filesystem::path(folder) / "log.db";
  const std::filesystem::path trend = std::filesystem::path(folder) / "trend.html";
  if (placed != kBadInput) {
    fill_log(log, sheet, streams);
    run_program({"trend", "--db", log.string(), "--out", trend.string()}, streams);
  }
  streams.out << "Report:   " << (sheet / "loupe" / "report.html").string()
              << "\nTemplate: " << (sheet / "loupe" / "drill-template.pdf").string() << "\nTrends:   " << trend.string()
              << ", of thirty sheets in " << log.string() << ", 29 of them invented\n";
  // The demo shows what the program can and cannot say yet: an unanswered question is no failure of the demo.
  return placed == kBadInput ? placed : kDone;
}

}  // namespace

Run add_demo_command(CLI::App& app) {
  auto folder = std::make_shared<std::string>();
  CLI::App* command = app.add_subcommand("demo", "Write an invented sheet with photos, inspect it and plan its rings");
  command->footer(
      "Example: sheetloupe demo /tmp/demo\nThe sheet is H-001 of the invented Harrow Lane workshop; its photos are "
      "drawn, not taken.");
  command->add_option("DIR", *folder, "Folder to write into")->required();
  return [folder](Streams streams) { return run_demo(*folder, streams); };
}

}  // namespace sheetloupe::cli
