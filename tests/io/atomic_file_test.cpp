#include "sheetloupe/io/atomic_file.h"

#include <gtest/gtest.h>

#include <chrono>
#include <fstream>

#include "sheetloupe/errors.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

void touch(const fs::path& path, std::chrono::hours ago) {
  std::ofstream(path) << "half";
  fs::last_write_time(path, fs::file_time_type::clock::now() - ago);
}

std::size_t files_in(const fs::path& folder) {
  return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
}

TEST(AtomicFile, IsWrittenWholeAndLeavesNothingBeside) {
  const TempDir folder;
  write_file(folder.path() / "report.json", "first");
  write_file(folder.path() / "report.json", "second");
  EXPECT_EQ(read_file(folder.path() / "report.json"), "second");
  EXPECT_EQ(files_in(folder.path()), 1U);
}

TEST(AtomicFile, DraftsOfAKilledRunAreSweptWhenTheFileIsWrittenAgain) {
  const TempDir folder;
  touch(folder.path() / ".report.json.draft-aB3xY9", std::chrono::hours(2));
  write_files({{folder.path() / "report.json", "whole"}});
  EXPECT_EQ(files_in(folder.path()), 1U);
}

TEST(AtomicFile, WhatMayStillBeWrittenOrIsAnothersStays) {
  const TempDir folder;
  touch(folder.path() / ".report.json.draft-aB3xY9", std::chrono::hours(0));  // another run, now
  touch(folder.path() / ".other.json.draft-aB3xY9", std::chrono::hours(99));  // another file's
  touch(folder.path() / "report.json.draft-aB3xY9", std::chrono::hours(99));  // no draft
  write_file(folder.path() / "report.json", "whole");
  EXPECT_EQ(files_in(folder.path()), 4U);
}

// Renaming onto a folder fails as a kill would: after the first file, before the last.
TEST(AtomicFile, FilesOfTwoRunsAreNoticedUntilAWholeRunHasEnded) {
  const TempDir folder;
  const std::vector<FileDraft> files = {{folder.path() / "map.png", "new"}, {folder.path() / "report.json", "new"}};
  EXPECT_NO_THROW(require_finished(folder.path()));
  write_files({{folder.path() / "map.png", "old"}});
  fs::create_directory(folder.path() / "report.json");
  EXPECT_THROW(write_files(files), InputError);
  EXPECT_EQ(read_file(folder.path() / "map.png"), "new");
  EXPECT_TRUE(is_unfinished(folder.path()));
  EXPECT_THROW(require_finished(folder.path()), InputError);
  fs::remove(folder.path() / "report.json");
  write_files(files, [&] { EXPECT_TRUE(is_unfinished(folder.path())); });
  EXPECT_FALSE(is_unfinished(folder.path()));
  EXPECT_NO_THROW(require_finished(folder.path()));
  EXPECT_EQ(files_in(folder.path()), 2U);
}

}  // namespace
}  // namespace sheetloupe
