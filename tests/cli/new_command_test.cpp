#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "sheetloupe/io/atomic_file.h"
#include "support/run_words.h"
#include "support/small_photo.h"
#include "support/temp_dir.h"

namespace sheetloupe::cli {
namespace {

TEST(NewCommand, WithoutPhotosMakesAFolderToFill) {
  const TempDir dir;
  const Outcome o = run({"new", (dir / "H-030").string()});
  EXPECT_EQ(o.status, kDone) << o.err;
  EXPECT_THAT(o.out, testing::HasSubstr("front.jpg"));
  EXPECT_EQ(nlohmann::json::parse(read_file(dir / "H-030" / "sheet.json"))["id"], "H-030");
}

TEST(NewCommand, AMissingPhotoIsOneLineAndMakesNothing) {
  const TempDir dir;
  const Outcome o = run({"new", (dir / "H-030").string(), (dir / "IMG_1.jpg").string()});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_EQ(std::count(o.err.begin(), o.err.end(), '\n'), 1) << o.err;
  EXPECT_FALSE(std::filesystem::exists(dir / "H-030"));
}

// A photo with strips beside a close-up without: the markers tell them apart, and what was laid can be inspected.
TEST(NewCommand, MarkersTellAFaceFromACloseUp) {
  const TempDir dir;
  write_file(dir / "IMG_2.jpg", small_photo());
  write_file(dir / "IMG_1.jpg", phone_jpeg(cv::Mat(300, 400, CV_8UC3, cv::Scalar::all(70)), 26));
  const Outcome o =
      run({"new", (dir / "H-031").string(), (dir / "IMG_1.jpg").string(), (dir / "IMG_2.jpg").string(), "--json"});
  ASSERT_EQ(o.status, kDone) << o.err;
  const auto json = nlohmann::json::parse(o.out);
  EXPECT_EQ(json["photos"].size(), 2U);
  EXPECT_EQ(read_file(dir / "H-031" / "front.jpg"), read_file(dir / "IMG_2.jpg"));
  EXPECT_EQ(read_file(dir / "H-031" / "edge-top.jpg"), read_file(dir / "IMG_1.jpg"));
  for (const auto& photo : json["photos"]) EXPECT_TRUE(photo["guessed"]);
}

}  // namespace
}  // namespace sheetloupe::cli
