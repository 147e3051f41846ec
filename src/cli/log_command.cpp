// `sheetloupe log ...`: add, list, show, note, outcome, export, check. `log gauge` has a file of its own.
#include <algorithm>
#include <iomanip>
#include <memory>
#include <ostream>
#include <sstream>

#include "cli/commands.h"
#include "cli/support/log_gauge.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/log.h"
#include "sheetloupe/io/strict_json.h"

namespace sheetloupe::cli {
namespace {

struct LogArguments {
  std::string db;
  bool json = false;
  std::vector<std::string> folders, blanks, recipe;
  LogFilter filter;
  int last = 50;
  bool all = false;
  std::string sheet, text, result, note, out, format = "csv";
  int revision = 0;
};

std::filesystem::path file_of(const LogArguments& a) {
  return a.db.empty() ? default_log_file() : std::filesystem::path(a.db);
}

LogFilter filter_of(const LogArguments& a) {
  LogFilter filter = a.filter;
  for (const std::string& pair : a.recipe) {
    const std::size_t equals = pair.find('=');
    if (equals == std::string::npos || equals == 0)
      throw InputError({"wrong value", "--recipe", pair, "KEY=VALUE, for example clamps=8", ""});
    filter.recipe[pair.substr(0, equals)] = pair.substr(equals + 1);
  }
  if (!a.all) filter.last = a.last;
  return filter;
}

std::string figure_text(const Inspected& i, const char* name, int digits) {
  const auto it = i.measures.find(name);
  if (it == i.measures.end()) return "cannot tell";
  std::ostringstream out;
  out << std::fixed << std::setprecision(digits) << it->second.value;
  return out.str();
}

int run_add(const LogArguments& a, const Streams& streams) {
  // Read everything first: a folder that cannot be read stops the command before anything is added.
  std::vector<Inspected> inspected;
  for (const std::string& folder : a.folders) inspected.push_back(read_inspected(folder));
  SheetLog log(file_of(a), true);
  Json json = {{"schema_version", 1}, {"log", file_of(a).string()}, {"sheets", Json::array()}};
  for (const Inspected& i : inspected) {
    const AddResult result = log.add(i, log_time());
    json["sheets"].push_back({{"sheet", i.sheet}, {"revision", result.revision}, {"added", result.added}});
    if (a.json) continue;
    streams.out << i.sheet << ": "
                << (!result.added          ? "already in the log"
                    : result.revision == 1 ? "added"
                                           : "added again")
                << " as revision " << result.revision << ", grade " << i.grade << std::endl;
  }
  if (a.json) streams.out << json.dump(1) << '\n';
  return kDone;
}

void print_table(const std::vector<LogRow>& rows, std::ostream& out) {
  std::size_t wide = 5;
  for (const LogRow& row : rows) wide = std::max(wide, row.inspected.sheet.size());
  out << std::left << std::setw(static_cast<int>(wide)) << "sheet"
      << "  made        grade       usable %  ring yield %"
      << "  pinholes/dm2  turn deg  planned  good  spoiled\n";
  for (const LogRow& row : rows) {
    const Inspected& i = row.inspected;
    const auto cell = [&](const std::string& text, int width) { out << std::right << std::setw(width) << text; };
    out << std::left << std::setw(static_cast<int>(wide)) << i.sheet << "  " << std::setw(10)
        << (i.made.empty() ? "not said" : i.made) << "  " << std::setw(10) << i.grade;
    cell(figure_text(i, "usable_percent", 1), 11);
    cell(figure_text(i, "ring_yield_percent", 1), 14);
    cell(figure_text(i, "pinholes_per_dm2", 2), 14);
    cell(figure_text(i, "tow_turn_p95_deg", 2), 12);
    cell(std::to_string(row.blanks), 7);
    cell(std::to_string(row.good), 6);
    cell(std::to_string(row.bad), 9);
    if (row.revision > 1) out << "  revision " << row.revision;
    out << '\n';
  }
}

int run_list(const LogArguments& a, const Streams& streams) {
  const SheetLog log(file_of(a), false);
  const std::vector<LogRow> rows = log.rows(filter_of(a));
  if (a.json) {
    Json json = {{"schema_version", 1}, {"sheets", Json::array()}};
    for (const LogRow& row : rows) json["sheets"].push_back(log_row_to_json(row));
    streams.out << json.dump(1) << '\n';
  } else {
    print_table(rows, streams.out);
    streams.out << rows.size() << (rows.size() == 1 ? " sheet" : " sheets");
    if (!a.all && rows.size() == static_cast<std::size_t>(a.last)) streams.out << ", the newest; --all shows every one";
    streams.out << '\n';
  }
  return kDone;
}

void print_sheet(const LogRow& row, std::ostream& out) {
  const Inspected& i = row.inspected;
  out << i.sheet << ", revision " << row.revision << ", added " << row.added << " by sheetloupe " << i.tool << '\n'
      << "  made " << (i.made.empty() ? "not said" : i.made) << ", grade " << i.grade << " (" << i.rubric << ")\n";
  for (const MeasureName& m : log_measures()) {
    const auto it = i.measures.find(m.name);
    if (it == i.measures.end()) continue;
    out << "  " << m.words << ": " << std::fixed << std::setprecision(m.digits) << it->second.value;
    if (it->second.u95) out << " +-" << *it->second.u95;
    out << ' ' << m.unit << '\n';
  }
  for (const auto& [key, value] : i.recipe) {
    out << "  recipe, " << key << ": " << std::defaultfloat << std::setprecision(10);
    std::visit([&](const auto& v) { out << v; }, value);
    out << '\n';
  }
  for (const auto& [photo, sha] : i.photos) out << "  " << photo << " " << sha.substr(0, 16) << '\n';
}

int run_show(const LogArguments& a, const Streams& streams) {
  const SheetLog log(file_of(a), false);
  std::vector<LogRow> rows = log.revisions(a.sheet);
  if (a.revision > 0) {
    std::erase_if(rows, [&](const LogRow& r) { return r.revision != a.revision; });
    if (rows.empty())
      throw InputError({"no such revision", a.sheet, std::to_string(a.revision), "a revision in the log", ""});
  }
  const auto notes = log.notes(a.sheet);
  const auto outcomes = log.outcomes(a.sheet);
  if (a.json) {
    Json json = {
        {"schema_version", 1}, {"revisions", Json::array()}, {"notes", Json::array()}, {"outcomes", Json::array()}};
    for (const LogRow& row : rows) {
      json["revisions"].push_back(log_row_to_json(row));
      json["revisions"].back()["report"] = Json::parse(row.inspected.report, nullptr, false);
    }
    for (const LogNote& n : notes) json["notes"].push_back({{"added", n.added}, {"text", n.text}});
    for (const LogOutcome& o : outcomes)
      json["outcomes"].push_back({{"blank", o.blank}, {"result", o.result}, {"note", o.note}, {"added", o.added}});
    streams.out << json.dump(1) << '\n';
    return kDone;
  }
  for (const LogRow& row : rows) print_sheet(row, streams.out);
  for (const LogNote& n : notes) streams.out << "  note, " << n.added << ": " << n.text << '\n';
  for (const LogOutcome& o : outcomes)
    streams.out << "  " << o.blank << ": " << o.result << (o.note.empty() ? "" : ", " + o.note) << '\n';
  return kDone;
}

int run_note(const LogArguments& a, const Streams& streams) {
  SheetLog log(file_of(a), false);
  log.add_note(a.sheet, a.text, log_time());
  if (a.json)
    streams.out << Json{{"schema_version", 1}, {"sheet", a.sheet}, {"text", a.text}}.dump(1) << '\n';
  else
    streams.out << "Noted for " << a.sheet << ".\n";
  return kDone;
}

int run_outcome(const LogArguments& a, const Streams& streams) {
  SheetLog log(file_of(a), false);
  std::vector<LogOutcome> outcomes;
  const std::string now = log_time();
  for (const std::string& blank : a.blanks) outcomes.push_back({"", blank, a.result, a.note, now});
  if (!a.sheet.empty()) {
    log.revisions(a.sheet);
    for (const std::string& blank : log.open_blanks(a.sheet)) outcomes.push_back({"", blank, a.result, a.note, now});
  }
  if (outcomes.empty() && a.sheet.empty())
    throw InputError({"no blank was named", "log outcome", "", "blank numbers, or --rest SHEET", ""});
  log.add_outcomes(outcomes);
  Json json = {{"schema_version", 1}, {"result", a.result}, {"blanks", Json::array()}};
  for (const LogOutcome& o : outcomes) json["blanks"].push_back(o.blank);
  if (a.json)
    streams.out << json.dump(1) << '\n';
  else
    streams.out << outcomes.size() << (outcomes.size() == 1 ? " blank: " : " blanks: ") << a.result << '\n';
  return kDone;
}

int run_export(const LogArguments& a, const Streams& streams) {
  const SheetLog log(file_of(a), false);
  LogFilter filter;
  filter.all_revisions = true;
  std::string text;
  const std::vector<LogRow> rows = log.rows(filter, a.format == "json" ? LogDetail::everything : LogDetail::figures);
  if (a.format == "csv") {
    text = log_to_csv(rows);
  } else {
    Json json = {
        {"schema_version", 1}, {"revisions", Json::array()}, {"notes", Json::array()}, {"outcomes", Json::array()}};
    for (const LogRow& row : rows) json["revisions"].push_back(log_row_to_json(row));
    for (const LogNote& n : log.notes())
      json["notes"].push_back({{"sheet", n.sheet}, {"added", n.added}, {"text", n.text}});
    for (const LogOutcome& o : log.outcomes())
      json["outcomes"].push_back(
          {{"sheet", o.sheet}, {"blank", o.blank}, {"result", o.result}, {"note", o.note}, {"added", o.added}});
    text = json.dump(1) + "\n";
  }
  if (a.out.empty()) {
    streams.out << text;
  } else {
    write_file(a.out, text);
    streams.out << "Written to " << a.out << '\n';
  }
  return kDone;
}

int run_check(const LogArguments& a, const Streams& streams) {
  const SheetLog log(file_of(a), false);
  const std::string answer = log.integrity();
  if (answer != "ok") {
    throw InputError({"the log is damaged; it was not changed", file_of(a).string(), answer, "a sound file",
                      "Put a copy back from your backup, or start a new log with --db FILE and add the folders again"});
  }
  if (a.json)
    streams.out << Json{{"schema_version", 1}, {"log", file_of(a).string()}, {"sound", true}}.dump(1) << '\n';
  else
    streams.out << file_of(a).string() << " is sound.\n";
  return kDone;
}

using Runs = std::vector<std::pair<CLI::App*, Run>>;

CLI::App* add(Runs& runs, CLI::App& group, const std::shared_ptr<LogArguments>& a, const std::string& name,
              const std::string& what, int (*run)(const LogArguments&, const Streams&)) {
  CLI::App* command = group.add_subcommand(name, what);
  command->add_option("--db", a->db, "Another log file (default: sheetloupe/log.db in your data folder)");
  if (name != "export") command->add_flag("--json", a->json, "Print JSON on standard output and nothing else");
  runs.emplace_back(command, [a, run](Streams streams) { return run(*a, streams); });
  return command;
}

void add_reading(Runs& runs, CLI::App& group, const std::shared_ptr<LogArguments>& a) {
  CLI::App* list = add(runs, group, a, "list", "The sheets in the log, one line each", run_list);
  list->footer("Example: sheetloupe log list --grade C --recipe clamps=8 --since 2026-03-01");
  list->add_option("--grade", a->filter.grade, "Only this grade")->check(CLI::IsMember({"A", "B", "C", "not graded"}));
  list->add_option("--since", a->filter.since, "Made on this day or later, 2026-03-02");
  list->add_option("--until", a->filter.until, "Made on this day or earlier");
  list->add_option("--recipe", a->recipe, "Only where the recipe says KEY=VALUE; may be repeated");
  list->add_option("--last", a->last, "How many of the newest")->check(CLI::Range(1, 1000000))->capture_default_str();
  list->add_flag("--all", a->all, "Every sheet, not only the newest");
  list->add_flag("--revisions", a->filter.all_revisions, "Every revision, not only the newest of each sheet");
  CLI::App* show = add(runs, group, a, "show", "Everything the log knows of one sheet", run_show);
  show->footer("Example: sheetloupe log show H-014");
  show->add_option("SHEET", a->sheet, "The sheet's id")->required();
  show->add_option("--revision", a->revision, "Only this revision (default: all)")->check(CLI::PositiveNumber);
  CLI::App* out = add(runs, group, a, "export", "The whole log as CSV (a table) or JSON (everything)", run_export);
  out->footer("Example: sheetloupe log export -o log.csv");
  out->add_option("--format", a->format, "csv or json")->check(CLI::IsMember({"csv", "json"}))->capture_default_str();
  out->add_option("-o", a->out, "File to write (default: standard output)");
  CLI::App* check = add(runs, group, a, "check", "Look through the whole file for damage", run_check);
  check->footer("Example: sheetloupe log check");
}

}  // namespace

Run add_log_command(CLI::App& app) {
  auto a = std::make_shared<LogArguments>();
  CLI::App* group = app.add_subcommand("log", "Keep inspections in one file and note what became of the blanks");
  group->footer("Example: sheetloupe log add H-014");
  group->require_subcommand(1);
  auto runs = std::make_shared<Runs>();
  CLI::App* adding = add(*runs, *group, a, "add", "Add inspected sheet folders to the log", run_add);
  adding->footer(
      "Example: sheetloupe log add H-014 H-015\nThe same inspection twice is one entry; a new one of the "
      "same sheet is a new revision.");
  adding->add_option("FOLDER", a->folders, "Sheet folders with loupe/report.json")->required();
  add_reading(*runs, *group, a);
  CLI::App* note = add(*runs, *group, a, "note", "Add a note to a sheet", run_note);
  note->footer("Example: sheetloupe log note H-014 \"new roll of cloth\"");
  note->add_option("SHEET", a->sheet, "The sheet's id")->required();
  note->add_option("TEXT", a->text, "The note")->required();
  CLI::App* outcome =
      add(*runs, *group, a, "outcome", "Say what became of blanks after drilling and turning", run_outcome);
  outcome->footer(
      "Example: sheetloupe log outcome H-014-07 H-014-12 --was pinhole\n         sheetloupe log outcome "
      "--rest H-014 --was good\nA later word on a blank counts; the earlier one is kept.");
  outcome->add_option("BLANK", a->blanks, "Numbers of blanks as the plan gave them");
  outcome->add_option("--was", a->result, "good, or what spoiled it")->required()->check(CLI::IsMember(log_causes()));
  outcome->add_option("--rest", a->sheet, "Every blank of this sheet that has no outcome yet");
  outcome->add_option("--note", a->note, "A word on it");
  CLI::App* gauge = group->add_subcommand("gauge", "How much of the variation is the measuring itself");
  gauge->footer(
      "Example: sheetloupe log gauge H-014-a H-014-b H-015-a H-015-b\nOne inspected folder a photo, the same sheet id "
      "in the folders of one sheet. With \"photographed_by\" in every recipe the people are compared too. Nothing is "
      "added to the log.");
  gauge->add_option("FOLDER", a->folders, "Inspected folders, several of each sheet")->required();
  gauge->add_flag("--json", a->json, "Print JSON on standard output and nothing else");
  runs->emplace_back(gauge, [a](Streams streams) { return run_gauge(a->folders, a->json, streams); });
  return [runs](Streams streams) {
    for (const auto& [command, run] : *runs)
      if (command->parsed()) return run(streams);
    return static_cast<int>(kBadInput);
  };
}

}  // namespace sheetloupe::cli
