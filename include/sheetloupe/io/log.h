// The sheet log: every inspection of a shop in one SQLite file. It only grows: a new inspection of a sheet is a new
// revision, an outcome or a note is added beside the earlier ones, nothing is ever overwritten.
#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

struct LogFigure {
  double value = 0.0;
  std::optional<double> u95;
};

/// Centre in the front frame, mm.
struct LoggedDefect {
  std::string id, kind, face;
  SheetPoint at;
  double area_mm2 = 0.0;
  double confidence = 1.0;
};

struct LoggedBlank {
  std::string id, ring;
  SheetPoint at;
  double saw_outer_mm = 0.0;
};

using RecipeValue = std::variant<double, std::string>;

/// One inspection as the log keeps it.
struct Inspected {
  std::string sheet, made, tool, rubric, grade;             // grade: "A", "B", "C" or "not graded"
  std::string content_sha256;                               // of what was inspected: the same again is no new revision
  bool datum = false;                                       // the frame is tied to the sheet by a strip or a mark
  double width_mm = 0.0, height_mm = 0.0;                   // 0 when not measured
  std::map<std::string, LogFigure> measures;                // by the names in log_measures()
  std::map<std::string, RecipeValue> recipe;                // what sheet.json gave, cloth and plies included
  std::vector<std::pair<std::string, std::string>> photos;  // file, sha256
  std::vector<LoggedDefect> defects;
  std::vector<LoggedBlank> blanks;
  std::map<std::string, double> barred_percent;  // by cause; empty when no rings were planned
  std::string report;                            // report.json without grids and shapes
};

struct MeasureName {
  const char* name;
  const char* words;
  const char* unit;
  int digits;
};
/// Every measure the log keeps, in the order of its tables.
const std::vector<MeasureName>& log_measures();

/// What the files in FOLDER/loupe say (or in FOLDER itself when it holds a report.json). Throws InputError: no report
/// there, or one that cannot be read.
Inspected read_inspected(const std::filesystem::path& folder);

struct LogOutcome {
  std::string sheet, blank, result, note, added;  // result: "good" or a cause of log_causes()
};
struct LogNote {
  std::string sheet, added, text;
};

/// What a blank can come to after drilling and turning; "good" first.
const std::vector<std::string>& log_causes();

/// One revision in the log. `report` is filled by `show` and `everything` only.
struct LogRow {
  int revision = 1;
  std::string added;
  Inspected inspected;
  int blanks = 0;         // in the plan
  int good = 0, bad = 0;  // outcomes so far, the last word on each blank
};

struct LogFilter {
  std::string grade, since, until;            // dates as in sheet.json: "2026-03-02"; of making, else of adding
  std::map<std::string, std::string> recipe;  // each key must hold this value, as text
  std::optional<int> last;                    // the newest n only
  bool all_revisions = false;                 // else the newest of each sheet
};

/// How much of a row is read.
enum class LogDetail { figures, shapes, everything };

struct AddResult {
  int revision = 1;
  bool added = false;  // false: this very inspection was there already
};

class SheetLog {
 public:
  /// Opens `file`, makes it when `create`, brings an older schema up to date. Throws InputError: no such log, a newer
  /// schema, no log or a damaged one (the file is not touched then).
  SheetLog(const std::filesystem::path& file, bool create);
  SheetLog(SheetLog&&) noexcept;
  SheetLog(const SheetLog&) = delete;
  SheetLog& operator=(const SheetLog&) = delete;
  ~SheetLog();

  /// Each is one transaction: in the file and flushed to disk when it returns. `now`: "2026-03-02T14:05:00Z".
  AddResult add(const Inspected& inspected, const std::string& now);
  void add_note(const std::string& sheet, const std::string& text, const std::string& now);
  /// Throws InputError when a blank is in no plan of the log.
  void add_outcomes(const std::vector<LogOutcome>& outcomes);

  /// Oldest first, by the day of making, else of adding.
  std::vector<LogRow> rows(const LogFilter& filter = {}, LogDetail detail = LogDetail::figures) const;
  /// Every revision of one sheet. Throws InputError when there is none, naming near ids.
  std::vector<LogRow> revisions(const std::string& sheet) const;
  std::vector<LogNote> notes(const std::string& sheet = "") const;
  /// Every outcome ever given; the last one of a blank counts.
  std::vector<LogOutcome> outcomes(const std::string& sheet = "") const;
  /// The blanks of a sheet's newest plan that have no outcome yet.
  std::vector<std::string> open_blanks(const std::string& sheet) const;

  /// SQLite's own check of the whole file: "ok" or what is wrong.
  std::string integrity() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// Where the log lies when nothing else is said: $XDG_DATA_HOME/sheetloupe/log.db, else ~/.local/share/sheetloupe.
std::filesystem::path default_log_file();

/// Now, UTC, as the log writes it.
std::string log_time();

nlohmann::ordered_json log_row_to_json(const LogRow& row);
/// One line a revision: identity, measures with their u95, recipe columns. RFC 4180.
std::string log_to_csv(const std::vector<LogRow>& rows);

}  // namespace sheetloupe
