#include "io/log/schema.h"

#include <array>
#include <string>

namespace sheetloupe::log {
namespace {

// A step is never edited once it has shipped: a change is a new step.
constexpr std::array kSteps = {
    // 1: inspections
    R"sql(
CREATE TABLE inspection (
  id INTEGER PRIMARY KEY, sheet TEXT NOT NULL, revision INTEGER NOT NULL, content_sha256 TEXT NOT NULL,
  added TEXT NOT NULL, made TEXT NOT NULL, tool TEXT NOT NULL, rubric TEXT NOT NULL, grade TEXT NOT NULL,
  datum INTEGER NOT NULL, width_mm REAL NOT NULL, height_mm REAL NOT NULL,
  UNIQUE (sheet, revision), UNIQUE (sheet, content_sha256));
CREATE TABLE measure (inspection INTEGER NOT NULL REFERENCES inspection, name TEXT NOT NULL, value REAL NOT NULL,
  u95 REAL, PRIMARY KEY (inspection, name)) WITHOUT ROWID;
CREATE TABLE recipe (inspection INTEGER NOT NULL REFERENCES inspection, name TEXT NOT NULL, value NOT NULL,
  PRIMARY KEY (inspection, name)) WITHOUT ROWID;
CREATE TABLE photo (inspection INTEGER NOT NULL REFERENCES inspection, file TEXT NOT NULL, sha256 TEXT NOT NULL,
  PRIMARY KEY (inspection, file)) WITHOUT ROWID;
CREATE TABLE defect (inspection INTEGER NOT NULL REFERENCES inspection, number INTEGER NOT NULL, name TEXT NOT NULL,
  kind TEXT NOT NULL, face TEXT NOT NULL, x_mm REAL NOT NULL, y_mm REAL NOT NULL, area_mm2 REAL NOT NULL,
  confidence REAL NOT NULL, PRIMARY KEY (inspection, number)) WITHOUT ROWID;
CREATE TABLE blank (inspection INTEGER NOT NULL REFERENCES inspection, name TEXT NOT NULL, ring TEXT NOT NULL,
  x_mm REAL NOT NULL, y_mm REAL NOT NULL, saw_outer_mm REAL NOT NULL,
  PRIMARY KEY (inspection, name)) WITHOUT ROWID;
CREATE TABLE barred (inspection INTEGER NOT NULL REFERENCES inspection, cause TEXT NOT NULL, percent REAL NOT NULL,
  PRIMARY KEY (inspection, cause)) WITHOUT ROWID;
CREATE TABLE report (inspection INTEGER PRIMARY KEY REFERENCES inspection, json TEXT NOT NULL);
CREATE TABLE note (id INTEGER PRIMARY KEY, sheet TEXT NOT NULL, added TEXT NOT NULL, text TEXT NOT NULL);
)sql",
    // 2: what became of the blanks; nothing is ever changed or taken out
    R"sql(
CREATE TABLE outcome (id INTEGER PRIMARY KEY, sheet TEXT NOT NULL, blank TEXT NOT NULL, result TEXT NOT NULL,
  note TEXT NOT NULL, added TEXT NOT NULL);
CREATE INDEX outcome_by_sheet ON outcome (sheet, blank);
CREATE INDEX note_by_sheet ON note (sheet);
CREATE INDEX blank_by_name ON blank (name);
CREATE TRIGGER inspection_stays BEFORE UPDATE ON inspection BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER inspection_kept BEFORE DELETE ON inspection BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER measure_stays BEFORE UPDATE ON measure BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER measure_kept BEFORE DELETE ON measure BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER outcome_stays BEFORE UPDATE ON outcome BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER outcome_kept BEFORE DELETE ON outcome BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER note_stays BEFORE UPDATE ON note BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER note_kept BEFORE DELETE ON note BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
)sql"};

}  // namespace

int newest_schema() { return static_cast<int>(kSteps.size()); }

void migrate(SQLite::Database& db, int target) {
  SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
  // Read again inside: another process may have been faster.
  const int seen = db.execAndGet("PRAGMA user_version").getInt();
  for (int step = seen; step < target; ++step) db.exec(kSteps[static_cast<std::size_t>(step)]);
  if (seen < target) {
    db.exec("PRAGMA application_id = " + std::to_string(kApplicationId));
    db.exec("PRAGMA user_version = " + std::to_string(target));
  }
  transaction.commit();
}

}  // namespace sheetloupe::log
