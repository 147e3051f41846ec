// The tables of the log and how an older file becomes a newer one.
#pragma once

#include <SQLiteCpp/SQLiteCpp.h>

namespace sheetloupe::log {

/// Marks the file as a sheet log ("SLog").
inline constexpr int kApplicationId = 0x534C6F67;

/// Number of steps; the file's user_version counts those that it has seen.
int newest_schema();

/// Runs the steps that are missing up to `target`, in one transaction.
void migrate(SQLite::Database& db, int target);

}  // namespace sheetloupe::log
