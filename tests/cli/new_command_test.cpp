#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/demo.h"
#include "support/run_words.h"
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
  SceneSheet sheet;
  sheet.width_mm = 120;
  sheet.height_mm = 100;
  SceneCamera camera;
  camera.size = {2400, 1800};
  camera.over = {60, 50};
  camera.height_mm = 330;
  write_file(dir / "IMG_2.jpg", phone_jpeg(render_photo(sheet, false, {}, camera).bgr, 26));
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
