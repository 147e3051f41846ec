// Opening and making the file. A new log is made whole beside its place and then linked into it, so a half-made one is
// never seen, by a second process either.
#include <fcntl.h>
#include <sqlite3.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <ctime>
#include <fstream>
#include <system_error>

#include "io/log/log_impl.h"
#include "io/log/schema.h"

namespace sheetloupe {

namespace fs = std::filesystem;

namespace log {

[[noreturn]] void complain(const fs::path& file, const SQLite::Exception& e) {
  const std::string where = file.string();
  switch (e.getErrorCode()) {
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      throw InputError(
          {"this is no sheet log, or a damaged one; it was not changed", where, e.what(), "a sheet log",
           "Put a copy back from your backup, or start a new log with --db FILE and add the folders again"});
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      throw InputError({"another program keeps the log locked", where, "", "", "Close it and run the command again"});
    case SQLITE_FULL:
      throw InputError({"the disk is full", where, "", "", "Free some space and run the command again"});
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_IOERR:
      throw InputError({"the log cannot be read or written", where, e.what(), "",
                        "Allow reading and writing it and its folder, or choose another with --db"});
    default:
      throw e;
  }
}

}  // namespace log

namespace {

constexpr int kWaitMs = 10000;  // for another process to finish its transaction

// Up to this size every opening checks the whole file: a few milliseconds. Larger ones are checked by `log check`.
constexpr std::uintmax_t kCheckedBytes = std::uintmax_t{4} << 20;

[[noreturn]] void damaged(const fs::path& file, const std::string& found) {
  throw InputError({"this is no sheet log, or a damaged one; it was not changed", file.string(), found, "a sheet log",
                    "Put a copy back from your backup, or start a new log with --db FILE and add the folders again"});
}

void settle(SQLite::Database& db) {
  db.setBusyTimeout(kWaitMs);
  // An acknowledged sheet survives a power cut: every commit is flushed to disk.
  db.exec("PRAGMA synchronous = FULL");
  db.exec("PRAGMA foreign_keys = ON");
  db.exec("PRAGMA cell_size_check = ON");
}

void remove_draft(const fs::path& draft) {
  std::error_code ignored;
  for (const char* ending : {"", "-wal", "-shm", "-journal"}) fs::remove(draft.string() + ending, ignored);
}

void make_new(const fs::path& file) {
  std::error_code error;
  if (file.has_parent_path()) fs::create_directories(file.parent_path(), error);
  if (error) {
    throw InputError({"the log's folder cannot be made", file.parent_path().string(), error.message(), "",
                      "Choose another place with --db"});
  }
  std::string name = file.string() + ".new-XXXXXX";
  const int descriptor = mkostemp(name.data(), O_CLOEXEC);
  if (descriptor < 0)
    throw InputError(
        {"the log cannot be made", file.string(), std::strerror(errno), "", "Choose another place with --db"});
  close(descriptor);
  try {
    SQLite::Database db(name, SQLite::OPEN_READWRITE);
    settle(db);
    db.exec("PRAGMA journal_mode = WAL");
    log::migrate(db, log::newest_schema());
  } catch (...) {
    remove_draft(name);
    throw;
  }
  fs::create_hard_link(name, file, error);
  // A file system without hard links: the same, a little less safely.
  if (error && error != std::errc::file_exists && !fs::exists(file)) fs::rename(name, file, error);
  remove_draft(name);
}

// What can be seen before SQLite touches anything: its mark, and a file as long as its own header says. A log that is
// being written (it has a -wal beside it) may be shorter for a moment.
void check_bytes(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  unsigned char h[100] = {};
  stream.read(reinterpret_cast<char*>(h), sizeof h);
  if (stream.gcount() < 100) damaged(file, std::to_string(fs::file_size(file)) + " bytes");
  if (std::string(reinterpret_cast<char*>(h), 15) != "SQLite format 3") damaged(file, "bytes of another kind");
  const auto big = [&](int at, int bytes) {
    std::uintmax_t v = 0;
    for (int i = 0; i < bytes; ++i) v = v << 8U | h[at + i];
    return v;
  };
  const std::uintmax_t page = big(16, 2) == 1 ? 65536 : big(16, 2), pages = big(28, 4);
  const bool written_by_newer = big(24, 4) == big(92, 4);  // then the page count is valid (SQLite file format, 1.3.7)
  if (!fs::exists(file.string() + "-wal") && written_by_newer && fs::file_size(file) < page * pages)
    damaged(file, std::to_string(fs::file_size(file)) + " bytes of " + std::to_string(page * pages));
}

void check_kind(const fs::path& file, SQLite::Database& db) {
  const int id = db.execAndGet("PRAGMA application_id").getInt();
  const int schema = db.execAndGet("PRAGMA user_version").getInt();
  if (id != log::kApplicationId) damaged(file, "a database of another program");
  if (schema > log::newest_schema()) {
    throw InputError({"this log was written by a newer sheetloupe; it was not changed", file.string(),
                      "schema " + std::to_string(schema), "at most " + std::to_string(log::newest_schema()),
                      "Use that newer version, or another log with --db"});
  }
  if (fs::file_size(file) > kCheckedBytes) return;
  const std::string answer = db.execAndGet("PRAGMA quick_check(1)").getString();
  if (answer != "ok") damaged(file, answer);
}

}  // namespace

SheetLog::SheetLog(const fs::path& file, bool create) {
  log::guarded(file, [&] {
    const bool there = fs::exists(file);
    if (!there && !create) {
      throw InputError({"there is no sheet log yet", file.string(), "", "",
                        "Add a first sheet: sheetloupe log add FOLDER, or name another log with --db"});
    }
    if (there && !fs::is_regular_file(file)) damaged(file, "a folder or device");
    if (!there) make_new(file);
    check_bytes(file);
    impl_ = std::make_unique<Impl>(Impl{file, SQLite::Database(file.string(), SQLite::OPEN_READWRITE)});
    impl_->db.setBusyTimeout(kWaitMs);
    check_kind(file, impl_->db);
    settle(impl_->db);
    if (impl_->db.execAndGet("PRAGMA user_version").getInt() < log::newest_schema())
      log::migrate(impl_->db, log::newest_schema());
    return 0;
  });
}

SheetLog::SheetLog(SheetLog&&) noexcept = default;
SheetLog::~SheetLog() = default;

std::string SheetLog::integrity() const {
  return log::guarded(impl_->file, [&] { return impl_->db.execAndGet("PRAGMA integrity_check(1)").getString(); });
}

fs::path default_log_file() {
  const char* data = std::getenv("XDG_DATA_HOME");
  // The XDG base directory specification: a relative path is to be ignored.
  if (data != nullptr && fs::path(data).is_absolute()) return fs::path(data) / "sheetloupe" / "log.db";
  const char* home = std::getenv("HOME");
  if (home == nullptr || *home == '\0')
    throw InputError({"no home folder is known", "HOME", "", "", "Name the log with --db FILE"});
  return fs::path(home) / ".local" / "share" / "sheetloupe" / "log.db";
}

std::string log_time() {
  const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  std::tm utc{};
  gmtime_r(&now, &utc);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &utc);
  return text;
}

}  // namespace sheetloupe
