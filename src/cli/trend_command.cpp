#include <memory>
#include <ostream>
#include <set>

#include "cli/commands.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/log.h"
#include "sheetloupe/io/strict_json.h"
#include "sheetloupe/io/trend_page.h"

namespace sheetloupe::cli {
namespace {

struct TrendArguments {
  std::string db, out = "trend.html";
  LogFilter filter;
  int last = 0;
  bool json = false;
};

int run_trend(const TrendArguments& a, const Streams& streams) {
  const SheetLog log(a.db.empty() ? default_log_file() : std::filesystem::path(a.db), false);
  LogFilter filter = a.filter;
  if (a.last > 0) filter.last = a.last;
  const std::vector<LogRow> rows = log.rows(filter, LogDetail::shapes);
  std::set<std::string> ids;
  for (const LogRow& row : rows) ids.insert(row.inspected.sheet);
  std::vector<LogOutcome> outcomes = log.outcomes();
  std::erase_if(outcomes, [&](const LogOutcome& o) { return !ids.contains(o.sheet); });
  const Json model = trend_model(rows, outcomes);
  if (!a.json || a.out != "trend.html") write_file(a.out, trend_page(model));
  if (a.json) {
    streams.out << model.dump(1) << '\n';
    return rows.empty() ? kPartlyAnswered : kDone;
  }
  streams.out << model["headline"]["title"].get<std::string>() << '\n'
              << model["headline"]["line"].get<std::string>() << '\n';
  for (const Json& chart : model["charts"])
    streams.out << chart["title"].get<std::string>() << ": " << chart["sentence"].get<std::string>() << '\n';
  streams.out << "Page: " << a.out << '\n';
  return rows.empty() ? kPartlyAnswered : kDone;
}

}  // namespace

Run add_trend_command(CLI::App& app) {
  auto a = std::make_shared<TrendArguments>();
  CLI::App* command = app.add_subcommand("trend", "A page on what the sheets in the log say together");
  command->footer("Example: sheetloupe trend --since 2026-01-01 --out trend.html");
  command->add_option("--db", a->db, "Another log file (default: sheetloupe/log.db in your data folder)");
  command->add_option("--since", a->filter.since, "Made on this day or later, 2026-03-02");
  command->add_option("--until", a->filter.until, "Made on this day or earlier");
  command->add_option("--last", a->last, "Only the newest this many (default: all)")->check(CLI::Range(1, 1000000));
  command->add_option("--out", a->out, "Page to write")->capture_default_str();
  command->add_flag("--json", a->json, "Print the figures as JSON and write no page unless --out names one");
  return [a](Streams streams) { return run_trend(*a, streams); };
}

}  // namespace sheetloupe::cli
