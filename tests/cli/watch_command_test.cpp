#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <csignal>
#include <filesystem>
#include <sstream>
#include <thread>

#include "cli/program.h"
#include "sheetloupe/io/atomic_file.h"
#include "support/run_words.h"
#include "support/small_photo.h"
#include "support/temp_dir.h"

namespace sheetloupe::cli {
namespace {

namespace fs = std::filesystem;

TEST(Watch, MissingFolderIsBadInput) { EXPECT_EQ(run({"watch", "/nowhere/sheets", "--once"}).status, kBadInput); }

TEST(Watch, AnEmptyFolderEndsAtOnceWithOnce) {
  const TempDir dir;
  EXPECT_EQ(run({"watch", dir.path().string(), "--once", "--interval", "0.1"}).status, kDone);
}

TEST(Watch, ANewSheetIsInspectedOnceAndAgainOnlyWhenItChanges) {
  const TempDir dir;
  const fs::path folder = dir / "H-003";
  write_file(folder / "front.jpg", small_photo());
  const std::vector<std::string> watch = {"watch", dir.path().string(), "--once", "--interval", "0.1"};
  const Outcome first = run(watch);
  EXPECT_THAT(first.out, testing::HasSubstr("Inspecting " + folder.string()));
  ASSERT_TRUE(fs::exists(folder / "loupe" / "report.html")) << first.out << first.err;
  EXPECT_THAT(run(watch).out, testing::Not(testing::HasSubstr("Inspecting")));
  write_file(folder / "sheet.json", R"({"thickness_mm": 6.1})");
  EXPECT_THAT(run(watch).out, testing::HasSubstr("Inspecting"));
  EXPECT_THAT(read_file(folder / "loupe" / "report.html"), testing::HasSubstr("6.1 mm"));
}

TEST(Watch, AHalfWrittenPhotoIsNotInspected) {
  const TempDir dir;
  const std::string bytes = small_photo();
  write_file(dir / "H-003" / "front.jpg", bytes.substr(0, bytes.size() / 2));
  const Outcome o = run({"watch", dir.path().string(), "--once", "--interval", "0.1"});
  EXPECT_EQ(o.status, kPartlyAnswered);
  EXPECT_THAT(o.out, testing::HasSubstr("Waiting"));
  EXPECT_FALSE(fs::exists(dir / "H-003" / "loupe"));
}

TEST(Watch, CtrlCEndsItCleanly) {
  const TempDir dir;
  std::thread person([] {
    std::this_thread::sleep_for(std::chrono::milliseconds(400));
    std::raise(SIGINT);
  });
  const Outcome o = run({"watch", dir.path().string(), "--interval", "0.1"});
  person.join();
  EXPECT_EQ(o.status, kDone);
  EXPECT_THAT(o.out, testing::HasSubstr("Ended."));
}

}  // namespace
}  // namespace sheetloupe::cli
