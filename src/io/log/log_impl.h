// The open file behind SheetLog, and how SQLite's complaints become one clear message.
#pragma once

#include <SQLiteCpp/SQLiteCpp.h>
#include <SQLiteCpp/VariadicBind.h>

#include <filesystem>
#include <string>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/log.h"

namespace sheetloupe {

struct SheetLog::Impl {
  std::filesystem::path file;
  SQLite::Database db;
};

namespace log {

[[noreturn]] void complain(const std::filesystem::path& file, const SQLite::Exception& e);

/// Runs `f`; what SQLite throws comes out as InputError where the user can mend it.
template <class F>
auto guarded(const std::filesystem::path& file, F&& f) {
  try {
    return f();
  } catch (const SQLite::Exception& e) {
    complain(file, e);
  }
}

}  // namespace log
}  // namespace sheetloupe
