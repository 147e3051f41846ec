// Adding: inspections, notes, outcomes. Each in one transaction that takes the writer's lock first, so that two
// processes number their revisions one after the other.
#include "io/log/log_impl.h"

namespace sheetloupe {
namespace {

std::int64_t insert_inspection(SQLite::Database& db, const Inspected& i, int revision, const std::string& now) {
  SQLite::Statement s(db,
                      "INSERT INTO inspection (sheet, revision, content_sha256, added, made, tool, rubric, grade, "
                      "datum, width_mm, height_mm) VALUES (?,?,?,?,?,?,?,?,?,?,?)");
  s.bind(1, i.sheet);
  s.bind(2, revision);
  s.bind(3, i.content_sha256);
  s.bind(4, now);
  s.bind(5, i.made);
  s.bind(6, i.tool);
  s.bind(7, i.rubric);
  s.bind(8, i.grade);
  s.bind(9, i.datum ? 1 : 0);
  s.bind(10, i.width_mm);
  s.bind(11, i.height_mm);
  s.exec();
  return db.getLastInsertRowid();
}

void insert_figures(SQLite::Database& db, std::int64_t id, const Inspected& i) {
  SQLite::Statement measure(db, "INSERT INTO measure VALUES (?,?,?,?)");
  for (const auto& [name, figure] : i.measures) {
    measure.reset();
    measure.bind(1, id);
    measure.bind(2, name);
    measure.bind(3, figure.value);
    if (figure.u95)
      measure.bind(4, *figure.u95);
    else
      measure.bind(4);
    measure.exec();
  }
  SQLite::Statement recipe(db, "INSERT INTO recipe VALUES (?,?,?)");
  for (const auto& [name, value] : i.recipe) {
    recipe.reset();
    recipe.bind(1, id);
    recipe.bind(2, name);
    if (const auto* number = std::get_if<double>(&value))
      recipe.bind(3, *number);
    else
      recipe.bind(3, std::get<std::string>(value));
    recipe.exec();
  }
  SQLite::Statement barred(db, "INSERT INTO barred VALUES (?,?,?)");
  for (const auto& [cause, percent] : i.barred_percent) {
    barred.reset();
    SQLite::bind(barred, id, cause, percent);
    barred.exec();
  }
}

void insert_shapes(SQLite::Database& db, std::int64_t id, const Inspected& i) {
  SQLite::Statement photo(db, "INSERT INTO photo VALUES (?,?,?)");
  for (const auto& [file, sha] : i.photos) {
    photo.reset();
    SQLite::bind(photo, id, file, sha);
    photo.exec();
  }
  SQLite::Statement defect(db, "INSERT INTO defect VALUES (?,?,?,?,?,?,?,?,?)");
  int number = 0;
  for (const LoggedDefect& d : i.defects) {
    defect.reset();
    SQLite::bind(defect, id, ++number, d.id, d.kind, d.face, d.at.x, d.at.y, d.area_mm2, d.confidence);
    defect.exec();
  }
  SQLite::Statement blank(db, "INSERT INTO blank VALUES (?,?,?,?,?,?)");
  for (const LoggedBlank& b : i.blanks) {
    blank.reset();
    SQLite::bind(blank, id, b.id, b.ring, b.at.x, b.at.y, b.saw_outer_mm);
    blank.exec();
  }
  SQLite::Statement report(db, "INSERT INTO report VALUES (?,?)");
  SQLite::bind(report, id, i.report);
  report.exec();
}

}  // namespace

AddResult SheetLog::add(const Inspected& inspected, const std::string& now) {
  return log::guarded(impl_->file, [&] {
    SQLite::Database& db = impl_->db;
    SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
    SQLite::Statement known(db, "SELECT revision FROM inspection WHERE sheet = ? AND content_sha256 = ?");
    SQLite::bind(known, inspected.sheet, inspected.content_sha256);
    if (known.executeStep()) return AddResult{known.getColumn(0).getInt(), false};
    SQLite::Statement last(db, "SELECT coalesce(max(revision), 0) FROM inspection WHERE sheet = ?");
    last.bind(1, inspected.sheet);
    last.executeStep();
    const int revision = last.getColumn(0).getInt() + 1;
    const std::int64_t id = insert_inspection(db, inspected, revision, now);
    insert_figures(db, id, inspected);
    insert_shapes(db, id, inspected);
    transaction.commit();
    return AddResult{revision, true};
  });
}

void SheetLog::add_note(const std::string& sheet, const std::string& text, const std::string& now) {
  revisions(sheet);  // the sheet must be there
  log::guarded(impl_->file, [&] {
    SQLite::Transaction transaction(impl_->db, SQLite::TransactionBehavior::IMMEDIATE);
    SQLite::Statement s(impl_->db, "INSERT INTO note (sheet, added, text) VALUES (?,?,?)");
    SQLite::bind(s, sheet, now, text);
    s.exec();
    transaction.commit();
    return 0;
  });
}

void SheetLog::add_outcomes(const std::vector<LogOutcome>& outcomes) {
  log::guarded(impl_->file, [&] {
    SQLite::Transaction transaction(impl_->db, SQLite::TransactionBehavior::IMMEDIATE);
    SQLite::Statement owner(
        impl_->db, "SELECT i.sheet FROM blank b JOIN inspection i ON i.id = b.inspection WHERE b.name = ? LIMIT 1");
    SQLite::Statement s(impl_->db, "INSERT INTO outcome (sheet, blank, result, note, added) VALUES (?,?,?,?,?)");
    for (const LogOutcome& o : outcomes) {
      owner.reset();
      owner.bind(1, o.blank);
      if (!owner.executeStep()) {
        throw InputError({"no blank of that number is in the log", o.blank, "",
                          "a number from a plan, such as H-014-07",
                          "Look at the list with: sheetloupe log show SHEET, or add the sheet's folder first"});
      }
      const std::string sheet = owner.getColumn(0).getString();
      s.reset();
      SQLite::bind(s, sheet, o.blank, o.result, o.note, o.added);
      s.exec();
    }
    transaction.commit();
    return 0;
  });
}

}  // namespace sheetloupe
