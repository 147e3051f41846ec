// Reading: rows with their figures, notes, outcomes.
#include <algorithm>
#include <cstdlib>
#include <unordered_map>

#include "io/log/log_impl.h"

namespace sheetloupe {
namespace {

// The day by which sheets are put in order: of making, else of adding.
constexpr const char* kDay = "CASE i.made WHEN '' THEN substr(i.added, 1, 10) ELSE i.made END";

std::optional<double> as_number(const std::string& text) {
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  if (text.empty() || *end != '\0') return {};
  return value;
}

struct Query {
  std::string where = "1";
  std::vector<std::variant<double, std::string>> values;
};

Query query_of(const LogFilter& f) {
  Query q;
  const auto add = [&](const std::string& condition, const std::string& value) {
    q.where += " AND " + condition;
    q.values.emplace_back(value);
  };
  if (!f.all_revisions) q.where += " AND i.revision = (SELECT max(revision) FROM inspection j WHERE j.sheet = i.sheet)";
  if (!f.grade.empty()) add("i.grade = ?", f.grade);
  if (!f.since.empty()) add(std::string(kDay) + " >= ?", f.since);
  if (!f.until.empty()) add(std::string(kDay) + " <= ?", f.until);
  for (const auto& [key, value] : f.recipe) {
    const auto number = as_number(value);
    add("EXISTS (SELECT 1 FROM recipe r WHERE r.inspection = i.id AND r.name = ?", key);
    q.where += " AND r.value = ?)";
    if (number)
      q.values.emplace_back(*number);
    else
      q.values.emplace_back(value);
  }
  return q;
}

struct Row {
  std::int64_t id = 0;
  LogRow row;
};

std::vector<Row> heads(SQLite::Database& db, const Query& q, const std::optional<int>& last) {
  std::string sql =
      "SELECT i.id, i.revision, i.added, i.sheet, i.made, i.tool, i.rubric, i.grade, i.content_sha256, i.datum, "
      "i.width_mm, i.height_mm FROM inspection i WHERE " +
      q.where + " ORDER BY " + kDay + " DESC, i.id DESC";
  if (last) sql += " LIMIT " + std::to_string(*last);
  SQLite::Statement s(db, sql);
  int n = 0;
  for (const auto& value : q.values) std::visit([&](const auto& v) { s.bind(++n, v); }, value);
  std::vector<Row> rows;
  while (s.executeStep()) {
    Row r;
    r.id = s.getColumn(0).getInt64();
    r.row.revision = s.getColumn(1).getInt();
    r.row.added = s.getColumn(2).getString();
    Inspected& i = r.row.inspected;
    i.sheet = s.getColumn(3).getString();
    i.made = s.getColumn(4).getString();
    i.tool = s.getColumn(5).getString();
    i.rubric = s.getColumn(6).getString();
    i.grade = s.getColumn(7).getString();
    i.content_sha256 = s.getColumn(8).getString();
    i.datum = s.getColumn(9).getInt() != 0;
    i.width_mm = s.getColumn(10).getDouble();
    i.height_mm = s.getColumn(11).getDouble();
    rows.push_back(std::move(r));
  }
  std::reverse(rows.begin(), rows.end());
  return rows;
}

// The rows by inspection, for reading whole tables once. Few rows are read one by one, many by one pass.
class Details {
 public:
  Details(SQLite::Database& db, std::vector<Row>& rows) : db_(db), rows_(rows) {
    for (Row& r : rows) {
      by_id_[r.id] = &r.row;
      low_ = std::min(low_, r.id);
      high_ = std::max(high_, r.id);
    }
  }

  template <class F>
  void each(const std::string& columns, const std::string& table, F f) {
    constexpr std::int64_t kOneByOne = 200;
    const bool sparse = high_ - low_ > 4 * static_cast<std::int64_t>(rows_.size()) + kOneByOne;
    SQLite::Statement s(db_, "SELECT inspection, " + columns + " FROM " + table + " WHERE inspection BETWEEN ? AND ?");
    const auto run = [&](std::int64_t from, std::int64_t to) {
      s.reset();
      SQLite::bind(s, from, to);
      while (s.executeStep()) {
        const auto row = by_id_.find(s.getColumn(0).getInt64());
        if (row != by_id_.end()) f(*row->second, s);
      }
    };
    if (!sparse) return run(low_, high_);
    for (const Row& r : rows_) run(r.id, r.id);
  }

 private:
  SQLite::Database& db_;
  std::vector<Row>& rows_;
  std::unordered_map<std::int64_t, LogRow*> by_id_;
  std::int64_t low_ = INT64_MAX, high_ = 0;
};

void read_figures(Details& details) {
  details.each("name, value, u95", "measure", [](LogRow& row, SQLite::Statement& s) {
    const SQLite::Column u95 = s.getColumn(3);
    row.inspected.measures.emplace(
        s.getColumn(1).getText(),
        LogFigure{s.getColumn(2).getDouble(), u95.isNull() ? std::nullopt : std::optional(u95.getDouble())});
  });
  details.each("name, value", "recipe", [](LogRow& row, SQLite::Statement& s) {
    const SQLite::Column value = s.getColumn(2);
    if (value.isText())
      row.inspected.recipe.emplace(s.getColumn(1).getText(), value.getString());
    else
      row.inspected.recipe.emplace(s.getColumn(1).getText(), value.getDouble());
  });
}

void read_shapes(Details& details) {
  details.each("cause, percent", "barred", [](LogRow& row, SQLite::Statement& s) {
    row.inspected.barred_percent.emplace(s.getColumn(1).getText(), s.getColumn(2).getDouble());
  });
  details.each("name, kind, face, x_mm, y_mm, area_mm2, confidence", "defect", [](LogRow& row, SQLite::Statement& s) {
    row.inspected.defects.push_back({s.getColumn(1).getText(),
                                     s.getColumn(2).getText(),
                                     s.getColumn(3).getText(),
                                     {s.getColumn(4).getDouble(), s.getColumn(5).getDouble()},
                                     s.getColumn(6).getDouble(),
                                     s.getColumn(7).getDouble()});
  });
}

void read_all(Details& details) {
  details.each("name, ring, x_mm, y_mm, saw_outer_mm", "blank", [](LogRow& row, SQLite::Statement& s) {
    row.inspected.blanks.push_back({s.getColumn(1).getText(),
                                    s.getColumn(2).getText(),
                                    {s.getColumn(3).getDouble(), s.getColumn(4).getDouble()},
                                    s.getColumn(5).getDouble()});
  });
  details.each("file, sha256", "photo", [](LogRow& row, SQLite::Statement& s) {
    row.inspected.photos.emplace_back(s.getColumn(1).getText(), s.getColumn(2).getText());
  });
  details.each("json", "report",
               [](LogRow& row, SQLite::Statement& s) { row.inspected.report = s.getColumn(1).getString(); });
}

// The last word on each blank, counted by sheet.
void read_counts(SQLite::Database& db, std::vector<Row>& rows) {
  std::unordered_map<std::string, std::pair<int, int>> counts;
  const std::string last =
      "SELECT sheet, sum(result = 'good'), sum(result <> 'good') FROM (SELECT sheet, result, max(id) FROM outcome ";
  const auto collect = [&](SQLite::Statement& s) {
    while (s.executeStep()) counts[s.getColumn(0).getString()] = {s.getColumn(1).getInt(), s.getColumn(2).getInt()};
  };
  constexpr std::size_t kOneByOne = 200;
  if (rows.size() > kOneByOne) {
    SQLite::Statement s(db, last + "GROUP BY sheet, blank) GROUP BY sheet");
    collect(s);
  } else {
    SQLite::Statement s(db, last + "WHERE sheet = ? GROUP BY blank) GROUP BY sheet");
    for (const Row& r : rows) {
      s.reset();
      s.bind(1, r.row.inspected.sheet);
      collect(s);
    }
  }
  for (Row& r : rows) {
    const auto it = counts.find(r.row.inspected.sheet);
    if (it != counts.end()) std::tie(r.row.good, r.row.bad) = it->second;
    const auto planned = r.row.inspected.measures.find("blanks");
    if (planned != r.row.inspected.measures.end()) r.row.blanks = static_cast<int>(planned->second.value);
  }
}

std::vector<LogRow> read_rows(SQLite::Database& db, const Query& q, const std::optional<int>& last, LogDetail detail) {
  // One transaction, so that all tables are seen at one moment.
  SQLite::Transaction transaction(db);
  std::vector<Row> rows = heads(db, q, last);
  std::vector<LogRow> result;
  if (!rows.empty()) {
    Details details(db, rows);
    read_figures(details);
    if (detail != LogDetail::figures) read_shapes(details);
    if (detail == LogDetail::everything) read_all(details);
    read_counts(db, rows);
  }
  result.reserve(rows.size());
  for (Row& r : rows) result.push_back(std::move(r.row));
  return result;
}

}  // namespace

std::vector<LogRow> SheetLog::rows(const LogFilter& filter, LogDetail detail) const {
  return log::guarded(impl_->file, [&] { return read_rows(impl_->db, query_of(filter), filter.last, detail); });
}

std::vector<LogRow> SheetLog::revisions(const std::string& sheet) const {
  return log::guarded(impl_->file, [&] {
    Query q{"i.sheet = ?", {sheet}};
    std::vector<LogRow> rows = read_rows(impl_->db, q, {}, LogDetail::everything);
    if (rows.empty()) {
      throw InputError(
          {"no such sheet in the log", sheet, "", "the id of a logged sheet", "See the ids with: sheetloupe log list"});
    }
    std::sort(rows.begin(), rows.end(), [](const LogRow& a, const LogRow& b) { return a.revision < b.revision; });
    return rows;
  });
}

std::vector<LogNote> SheetLog::notes(const std::string& sheet) const {
  return log::guarded(impl_->file, [&] {
    SQLite::Statement s(impl_->db, "SELECT sheet, added, text FROM note WHERE ?1 = '' OR sheet = ?1 ORDER BY id");
    s.bind(1, sheet);
    std::vector<LogNote> notes;
    while (s.executeStep()) notes.push_back({s.getColumn(0), s.getColumn(1), s.getColumn(2)});
    return notes;
  });
}

std::vector<LogOutcome> SheetLog::outcomes(const std::string& sheet) const {
  return log::guarded(impl_->file, [&] {
    SQLite::Statement s(impl_->db, sheet.empty()
                                       ? "SELECT sheet, blank, result, note, added FROM outcome ORDER BY id"
                                       : "SELECT sheet, blank, result, note, added FROM outcome WHERE sheet = ? "
                                         "ORDER BY id");
    if (!sheet.empty()) s.bind(1, sheet);
    std::vector<LogOutcome> outcomes;
    while (s.executeStep())
      outcomes.push_back({s.getColumn(0), s.getColumn(1), s.getColumn(2), s.getColumn(3), s.getColumn(4)});
    return outcomes;
  });
}

std::vector<std::string> SheetLog::open_blanks(const std::string& sheet) const {
  return log::guarded(impl_->file, [&] {
    SQLite::Statement s(impl_->db,
                        "SELECT b.name FROM blank b JOIN inspection i ON i.id = b.inspection WHERE i.sheet = ?1 AND "
                        "i.revision = (SELECT max(revision) FROM inspection WHERE sheet = ?1) AND NOT EXISTS (SELECT 1 "
                        "FROM outcome o WHERE o.sheet = ?1 AND o.blank = b.name) ORDER BY b.name");
    s.bind(1, sheet);
    std::vector<std::string> names;
    while (s.executeStep()) names.push_back(s.getColumn(0).getString());
    return names;
  });
}

}  // namespace sheetloupe
