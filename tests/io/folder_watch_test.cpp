#include "sheetloupe/io/folder_watch.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <opencv2/imgcodecs.hpp>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

// A photo that decodes, with enough texture that half of its bytes are not all of its rows.
std::string jpeg(int seed) {
  cv::Mat3b picture(240, 320);
  cv::RNG random(static_cast<std::uint64_t>(seed) + 1);
  random.fill(picture, cv::RNG::UNIFORM, 0, 255);
  std::vector<uchar> bytes;
  cv::imencode(".jpg", picture, bytes);
  return {bytes.begin(), bytes.end()};
}

std::string half(const std::string& bytes) { return bytes.substr(0, bytes.size() / 2); }

TEST(FolderWatch, MissingFolderIsRefused) { EXPECT_THROW(FolderWatch("/nowhere/sheets"), InputError); }

TEST(FolderWatch, AFileIsNoFolder) {
  const TempDir dir;
  write_file(dir / "a", "x");
  EXPECT_THROW(FolderWatch(dir / "a"), InputError);
}

TEST(FolderWatch, EmptyFolderHasNothingToDo) {
  const TempDir dir;
  FolderWatch watch(dir.path(), 2);
  EXPECT_TRUE(watch.look(0).empty());
  EXPECT_TRUE(watch.look(10).empty());
  EXPECT_FALSE(watch.unsettled());
}

TEST(FolderWatch, FolderWithoutAFrontPhotoIsNoSheet) {
  const TempDir dir;
  write_file(dir / "H-001" / "edge-top.jpg", jpeg(1));
  FolderWatch watch(dir.path(), 2);
  watch.look(0);
  EXPECT_TRUE(watch.look(10).empty());
}

TEST(FolderWatch, ASheetIsReadyOnceWhenItHasLainStill) {
  const TempDir dir;
  write_file(dir / "H-001" / "front.jpg", jpeg(1));
  FolderWatch watch(dir.path(), 2);
  EXPECT_TRUE(watch.look(0).empty());
  EXPECT_TRUE(watch.unsettled());
  EXPECT_TRUE(watch.look(1.9).empty());
  const auto events = watch.look(2);
  ASSERT_EQ(events.size(), 1U);
  EXPECT_EQ(events[0].folder, dir / "H-001");
  EXPECT_EQ(events[0].problem, "");
  EXPECT_TRUE(watch.look(100).empty());
  EXPECT_FALSE(watch.unsettled());
}

TEST(FolderWatch, TheWatchedFolderMayBeTheSheetItself) {
  const TempDir dir;
  write_file(dir / "front.jpg", jpeg(1));
  FolderWatch watch(dir.path(), 2);
  watch.look(0);
  EXPECT_EQ(watch.look(2).size(), 1U);
  EXPECT_TRUE(watch.loose_photos().empty());
}

TEST(FolderWatch, AGrowingPhotoIsWaitedForThenReady) {
  const TempDir dir;
  const std::string bytes = jpeg(1);
  FolderWatch watch(dir.path(), 2);
  for (int i = 1; i <= 9; ++i) {
    write_file(dir / "H-001" / "front.jpg", bytes.substr(0, bytes.size() * static_cast<std::size_t>(i) / 10));
    EXPECT_TRUE(watch.look(i).empty()) << i;
  }
  write_file(dir / "H-001" / "front.jpg", bytes);
  EXPECT_TRUE(watch.look(10).empty());
  ASSERT_EQ(watch.look(12).size(), 1U);
}

TEST(FolderWatch, AHalfWrittenPhotoThatLiesStillIsToldOnceAndInspectedWhenWhole) {
  const TempDir dir;
  write_file(dir / "H-001" / "front.jpg", half(jpeg(1)));
  FolderWatch watch(dir.path(), 2);
  watch.look(0);
  const auto stuck = watch.look(2);
  ASSERT_EQ(stuck.size(), 1U);
  EXPECT_THAT(stuck[0].problem, testing::HasSubstr("front.jpg"));
  EXPECT_TRUE(watch.look(50).empty());
  write_file(dir / "H-001" / "front.jpg", jpeg(1));
  EXPECT_TRUE(watch.look(51).empty());
  const auto whole = watch.look(53);
  ASSERT_EQ(whole.size(), 1U);
  EXPECT_EQ(whole[0].problem, "");
}

TEST(FolderWatch, AnotherPhotoOrSheetJsonMakesItReadyAgain) {
  const TempDir dir;
  write_file(dir / "H-001" / "front.jpg", jpeg(1));
  FolderWatch watch(dir.path(), 2);
  watch.look(0);
  ASSERT_EQ(watch.look(2).size(), 1U);
  write_file(dir / "H-001" / "back.jpg", jpeg(2));
  watch.look(3);
  EXPECT_EQ(watch.look(5).size(), 1U);
  write_file(dir / "H-001" / "sheet.json", R"({"thickness_mm": 6.1})");
  watch.look(6);
  EXPECT_EQ(watch.look(8).size(), 1U);
}

TEST(FolderWatch, WhatTheInspectionWritesIsNoChange) {
  const TempDir dir;
  write_file(dir / "H-001" / "front.jpg", jpeg(1));
  FolderWatch watch(dir.path(), 2);
  watch.look(0);
  ASSERT_EQ(watch.look(2).size(), 1U);
  write_file(dir / "H-001" / "loupe" / "front_overlay.png", jpeg(3));
  write_file(dir / "H-001" / ".front.jpg.part", "x");
  write_file(dir / "H-001" / "orders.json", "{}");
  EXPECT_TRUE(watch.look(3).empty());
  EXPECT_TRUE(watch.look(9).empty());
}

TEST(FolderWatch, TwoFilesForOneRoleAreAProblemNotAnEnd) {
  const TempDir dir;
  write_file(dir / "H-001" / "front.jpg", jpeg(1));
  write_file(dir / "H-001" / "front.png", "x");
  write_file(dir / "H-002" / "front.jpg", jpeg(2));
  FolderWatch watch(dir.path(), 2);
  watch.look(0);
  const auto events = watch.look(2);
  ASSERT_EQ(events.size(), 2U);
  EXPECT_THAT(events[0].problem, testing::HasSubstr("two files"));
  EXPECT_EQ(events[1].problem, "");
}

TEST(FolderWatch, AFolderThatGoesAwayIsForgotten) {
  const TempDir dir;
  write_file(dir / "H-001" / "front.jpg", jpeg(1));
  FolderWatch watch(dir.path(), 2);
  watch.look(0);
  fs::remove_all(dir / "H-001");
  EXPECT_TRUE(watch.look(2).empty());
}

TEST(FolderWatch, LoosePhotosAreNamed) {
  const TempDir dir;
  write_file(dir / "IMG_0412.JPG", jpeg(1));
  write_file(dir / "notes.txt", "x");
  EXPECT_THAT(FolderWatch(dir.path(), 2).loose_photos(), testing::ElementsAre("IMG_0412.JPG"));
}

TEST(InspectionIsCurrent, WithoutAReportItIsNot) {
  const TempDir dir;
  write_file(dir / "front.jpg", jpeg(1));
  EXPECT_FALSE(inspection_is_current(dir.path()));
}

TEST(InspectionIsCurrent, AReportOfAnotherMakeIsNot) {
  const TempDir dir;
  write_file(dir / "front.jpg", jpeg(1));
  for (const char* report : {"", "[]", "{}", R"({"tool": 1, "sheet": 2})", R"({"tool": {"version": "0.0.1"}})"}) {
    write_file(dir / "loupe" / "report.json", report);
    EXPECT_FALSE(inspection_is_current(dir.path())) << report;
  }
}

}  // namespace
}  // namespace sheetloupe
