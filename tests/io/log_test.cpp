#include "sheetloupe/io/log.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <random>
#include <set>
#include <thread>

#include "io/log/schema.h"
#include "sheetloupe/io/atomic_file.h"
#include "support/refusal.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

const std::string kNow = "2026-03-02T14:05:00Z";

Inspected sheet(int number, const std::string& content = "x") {
  char id[40];
  std::snprintf(id, sizeof id, "H-%03d", number);
  Inspected i;
  i.sheet = id;
  i.made = "2026-03-02";
  i.tool = "0.1.0";
  i.rubric = "ring-making";
  i.grade = number % 2 == 0 ? "A" : "B";
  i.content_sha256 = std::string(id) + content;
  i.datum = true;
  i.width_mm = 240;
  i.height_mm = 180;
  i.measures = {{"usable_percent", {95.0 + number % 5, 0.5}}, {"blanks", {2, {}}}};
  i.recipe = {{"clamps", 8.0}, {"mould", std::string("coated board")}};
  i.photos = {{"front.jpg", std::string(64, 'a')}};
  i.defects = {{"F1", "pinhole", "front", {20, 30}, 0.5, 0.9}};
  i.blanks = {{i.sheet + "-01", "band", {30, 30}, 30}, {i.sheet + "-02", "band", {70, 30}, 30}};
  i.barred_percent = {{"pinhole", 2.5}};
  i.report = "{\"schema_version\":1}";
  return i;
}

TEST(SheetLog, MissingLogIsNotMadeByReading) {
  const TempDir dir;
  EXPECT_NE(refusal([&] { SheetLog(dir / "log.db", false); }).find("no sheet log yet"), std::string::npos);
  EXPECT_FALSE(std::filesystem::exists(dir / "log.db"));
}

TEST(SheetLog, NewLogIsEmptySoundAndLeavesNoDraft) {
  const TempDir dir;
  const SheetLog log(dir / "deep" / "log.db", true);
  EXPECT_TRUE(log.rows().empty());
  EXPECT_EQ(log.integrity(), "ok");
  for (const auto& entry : std::filesystem::directory_iterator(dir / "deep"))
    EXPECT_EQ(entry.path().filename().string().find("new-"), std::string::npos);
}

TEST(SheetLog, OneSheetComesBackAsItWentIn) {
  const TempDir dir;
  SheetLog log(dir / "log.db", true);
  EXPECT_TRUE(log.add(sheet(14), kNow).added);
  const auto rows = log.rows({}, LogDetail::everything);
  ASSERT_EQ(rows.size(), 1U);
  const Inspected& i = rows[0].inspected;
  EXPECT_EQ(i.sheet, "H-014");
  EXPECT_EQ(i.measures.at("usable_percent").value, 99);
  EXPECT_EQ(*i.measures.at("usable_percent").u95, 0.5);
  EXPECT_FALSE(i.measures.at("blanks").u95);
  EXPECT_EQ(std::get<double>(i.recipe.at("clamps")), 8);
  EXPECT_EQ(std::get<std::string>(i.recipe.at("mould")), "coated board");
  EXPECT_EQ(i.defects.at(0).at.y, 30);
  EXPECT_EQ(i.blanks.at(1).id, "H-014-02");
  EXPECT_EQ(i.barred_percent.at("pinhole"), 2.5);
  EXPECT_EQ(i.photos.at(0).first, "front.jpg");
  EXPECT_EQ(rows[0].blanks, 2);
}

TEST(SheetLog, AddingTwiceIsOneEntryAndANewInspectionIsANewRevision) {
  const TempDir dir;
  SheetLog log(dir / "log.db", true);
  log.add(sheet(1), kNow);
  const AddResult again = log.add(sheet(1), kNow);
  EXPECT_FALSE(again.added);
  EXPECT_EQ(again.revision, 1);
  const AddResult second = log.add(sheet(1, "y"), kNow);
  EXPECT_TRUE(second.added);
  EXPECT_EQ(second.revision, 2);
  EXPECT_FALSE(log.add(sheet(1), kNow).added);  // the first content is still known
  EXPECT_EQ(log.rows().size(), 1U);
  EXPECT_EQ(log.rows()[0].revision, 2);
  EXPECT_EQ(log.revisions("H-001").size(), 2U);
}

TEST(SheetLog, NothingInTheFileCanBeOverwritten) {
  const TempDir dir;
  SheetLog(dir / "log.db", true).add(sheet(1), kNow);
  SQLite::Database db((dir / "log.db").string(), SQLite::OPEN_READWRITE);
  EXPECT_THROW(db.exec("UPDATE inspection SET grade = 'A'"), SQLite::Exception);
  EXPECT_THROW(db.exec("DELETE FROM measure"), SQLite::Exception);
}

TEST(SheetLog, OutcomesAreKeptAndTheLastWordCounts) {
  const TempDir dir;
  SheetLog log(dir / "log.db", true);
  log.add(sheet(1), kNow);
  EXPECT_EQ(log.open_blanks("H-001").size(), 2U);
  log.add_outcomes({{"", "H-001-01", "good", "", kNow}, {"", "H-001-02", "good", "", kNow}});
  log.add_outcomes({{"", "H-001-02", "pinhole", "at the inner edge", kNow}});
  EXPECT_TRUE(log.open_blanks("H-001").empty());
  EXPECT_EQ(log.outcomes("H-001").size(), 3U);
  EXPECT_EQ(log.rows()[0].good, 1);
  EXPECT_EQ(log.rows()[0].bad, 1);
}

TEST(SheetLog, OutcomeOfAnUnknownBlankAddsNothing) {
  const TempDir dir;
  SheetLog log(dir / "log.db", true);
  log.add(sheet(1), kNow);
  EXPECT_NE(refusal([&] {
              log.add_outcomes({{"", "H-001-01", "good", "", kNow}, {"", "H-001-77", "good", "", kNow}});
            }).find("H-001-77"),
            std::string::npos);
  EXPECT_TRUE(log.outcomes().empty());
  EXPECT_NE(refusal([&] { log.add_note("H-009", "x", kNow); }).find("no such sheet"), std::string::npos);
}

TEST(SheetLog, FiltersByGradeDayRecipeAndNumber) {
  const TempDir dir;
  SheetLog log(dir / "log.db", true);
  for (int n = 1; n <= 10; ++n) {
    Inspected i = sheet(n);
    i.made = "2026-03-" + std::string(n < 10 ? "0" : "") + std::to_string(n);
    if (n > 7) i.recipe["clamps"] = 12.0;
    log.add(i, kNow);
  }
  const auto count = [&](const LogFilter& f) { return log.rows(f).size(); };
  LogFilter f;
  f.grade = "A";
  EXPECT_EQ(count(f), 5U);
  f.since = "2026-03-05";
  EXPECT_EQ(count(f), 3U);
  f = {};
  f.recipe["clamps"] = "12";
  EXPECT_EQ(count(f), 3U);
  f.recipe["mould"] = "coated board";
  EXPECT_EQ(count(f), 3U);
  f = {};
  f.last = 4;
  EXPECT_EQ(log.rows(f).front().inspected.sheet, "H-007");
  EXPECT_EQ(log.rows(f).back().inspected.sheet, "H-010");
}

TEST(SheetLog, CsvQuotesWhatNeedsIt) {
  const TempDir dir;
  SheetLog log(dir / "log.db", true);
  Inspected i = sheet(1);
  i.recipe["note"] = std::string("wet, \"cold\"");
  log.add(i, kNow);
  const std::string csv = log_to_csv(log.rows());
  EXPECT_NE(csv.find("recipe.note"), std::string::npos);
  EXPECT_NE(csv.find("\"wet, \"\"cold\"\"\""), std::string::npos);
  EXPECT_NE(csv.find("\r\nH-001,1,2026-03-02,"), std::string::npos);
}

TEST(SheetLog, OlderSchemaIsBroughtUpToDateWithItsSheets) {
  const TempDir dir;
  {
    SQLite::Database db((dir / "log.db").string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
    db.exec("PRAGMA journal_mode = WAL");
    log::migrate(db, 1);
    db.exec("INSERT INTO inspection VALUES (1,'H-001',1,'c','2026-01-01T00:00:00Z','','0','r','A',0,0,0)");
  }
  SheetLog log(dir / "log.db", false);
  EXPECT_EQ(log.rows().size(), 1U);
  EXPECT_TRUE(log.outcomes().empty());
  log.add(sheet(2), kNow);
  log.add_outcomes({{"", "H-002-01", "good", "", kNow}});
}

TEST(SheetLog, NewerSchemaIsRefusedAndUntouched) {
  const TempDir dir;
  SheetLog(dir / "log.db", true).add(sheet(1), kNow);
  {
    SQLite::Database db((dir / "log.db").string(), SQLite::OPEN_READWRITE);
    db.exec("PRAGMA user_version = 99");
  }
  const std::string before = read_file(dir / "log.db");
  EXPECT_NE(refusal([&] { SheetLog(dir / "log.db", true); }).find("newer sheetloupe"), std::string::npos);
  EXPECT_EQ(read_file(dir / "log.db"), before);
}

// Every way a file can be wrong: each is one message, and not a byte is changed.
TEST(SheetLog, DamagedFilesAreReportedAndLeftUntouched) {
  const TempDir dir;
  {
    SheetLog log(dir / "good.db", true);
    for (int n = 1; n <= 40; ++n) log.add(sheet(n), kNow);
  }
  const std::string good = read_file(dir / "good.db");
  ASSERT_GT(good.size(), 40000U);
  std::map<std::string, std::string> bad = {{"empty", ""},
                                            {"text", std::string(5000, 'x')},
                                            {"cut", good.substr(0, good.size() / 2)},
                                            {"short", good.substr(0, 60)}};
  bad["scribbled"] = good;
  for (std::size_t at = 4096 * 3; at < 4096 * 4; ++at) bad["scribbled"][at] = static_cast<char>(at * 37);
  {
    SQLite::Database other((dir / "other.db").string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
    other.exec("CREATE TABLE t (x)");
  }
  bad["foreign"] = read_file(dir / "other.db");
  for (const auto& [name, bytes] : bad) {
    const auto file = dir / ("bad-" + name + ".db");
    write_file(file, bytes);
    const std::string said = refusal([&] { SheetLog(file, true).add(sheet(99), kNow); });
    EXPECT_NE(said.find("damaged"), std::string::npos) << name << ": " << said;
    EXPECT_EQ(read_file(file), bytes) << name;
  }
}

int add_in_a_child(const std::filesystem::path& file, int from, int to, int tell) {
  const pid_t child = fork();
  if (child != 0) return child;
  SheetLog log(file, true);
  for (int n = from; n < to; ++n) {
    log.add(sheet(n), kNow);
    const int acknowledged = n;
    if (write(tell, &acknowledged, sizeof acknowledged) != sizeof acknowledged) _exit(1);
  }
  _exit(0);
}

// 200 adds by processes that are killed at random moments: whatever was acknowledged is there, and the file is sound.
TEST(SheetLog, KillingTheProcessLosesNoAcknowledgedSheet) {
  const TempDir dir;
  const auto file = dir / "log.db";
  std::mt19937_64 random(20260302);
  std::set<int> acknowledged;
  int kills = 0, next = 0;
  while (next < 200) {
    int ends[2];
    ASSERT_EQ(pipe(ends), 0);
    const int child = add_in_a_child(file, next, 200, ends[1]);
    close(ends[1]);
    usleep(static_cast<useconds_t>(1000 + random() % 40000));
    kill(child, SIGKILL);
    int status = 0, n = 0;
    waitpid(child, &status, 0);
    kills += WIFSIGNALED(status) ? 1 : 0;
    while (read(ends[0], &n, sizeof n) == sizeof n) acknowledged.insert(n);
    close(ends[0]);
    next = acknowledged.empty() ? 0 : *acknowledged.rbegin() + 1;
  }
  EXPECT_GE(kills, 3);
  const SheetLog log(file, false);
  EXPECT_EQ(log.integrity(), "ok");
  std::set<std::string> there;
  for (const LogRow& row : log.rows()) there.insert(row.inspected.sheet);
  for (const int n : acknowledged) EXPECT_TRUE(there.contains(sheet(n).sheet)) << n;
  EXPECT_EQ(there.size(), 200U);
}

TEST(SheetLog, TwoProcessesAddingAtOnceLoseNothing) {
  const TempDir dir;
  const auto file = dir / "log.db";  // made by whichever is first
  int ends[2];
  ASSERT_EQ(pipe(ends), 0);
  // Numbers 50 to 99 are added by both: one entry each.
  const int a = add_in_a_child(file, 0, 100, ends[1]), b = add_in_a_child(file, 50, 150, ends[1]);
  for (const int child : {a, b}) {
    int status = 0;
    waitpid(child, &status, 0);
    EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0);
  }
  const SheetLog log(file, false);
  EXPECT_EQ(log.rows().size(), 150U);
  for (const LogRow& row : log.rows()) EXPECT_EQ(row.revision, 1);
  EXPECT_EQ(log.integrity(), "ok");
}

TEST(SheetLog, DefaultPlaceFollowsTheDataFolder) {
  setenv("XDG_DATA_HOME", "/tmp/data", 1);
  EXPECT_EQ(default_log_file(), "/tmp/data/sheetloupe/log.db");
  setenv("XDG_DATA_HOME", "relative", 1);  // to be ignored, says the XDG base directory specification
  setenv("HOME", "/home/maker", 1);
  EXPECT_EQ(default_log_file(), "/home/maker/.local/share/sheetloupe/log.db");
  unsetenv("XDG_DATA_HOME");
}

TEST(ReadInspected, FolderWithoutAReportSaysWhatToDo) {
  const TempDir dir;
  EXPECT_NE(refusal([&] { read_inspected(dir.path()); }).find("sheetloupe inspect"), std::string::npos);
  EXPECT_NE(refusal([&] { read_inspected(dir / "none"); }).find("no such folder"), std::string::npos);
}

TEST(ReadInspected, ReportWithoutFacesIsStillAnEntry) {
  const TempDir dir;
  write_file(dir / "loupe" / "report.json",
             R"({"schema_version": 1, "tool": {"version": "0.1.0"}, "sheet": {"id": "H-003", "made": "2026-03-04",
                "fabric": "twill-2x2-6k-343", "plies_laid": 10, "recipe": {"clamps": 8, "mould": "glass"}},
                "faces": [], "edges": []})");
  const Inspected i = read_inspected(dir.path());
  EXPECT_EQ(i.sheet, "H-003");
  EXPECT_EQ(i.grade, "not graded");
  EXPECT_FALSE(i.datum);
  EXPECT_EQ(std::get<std::string>(i.recipe.at("mould")), "glass");
  EXPECT_EQ(std::get<double>(i.recipe.at("plies_laid")), 10);
  EXPECT_TRUE(i.measures.empty());
}

}  // namespace
}  // namespace sheetloupe
