#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/scene_edge.h"
#include "support/edge_with_strip.h"
#include "support/run_words.h"
#include "support/temp_dir.h"

namespace sheetloupe::cli {
namespace {

std::string photo_in(const std::filesystem::path& folder, double ply_px) {
  EdgeScene scene;
  scene.size = {1400, 700};
  scene.plies = 8;
  scene.ply_px = ply_px;
  scene.pitch_px = 5 * ply_px;
  const std::string path = (folder / "edge-top.png").string();
  cv::imwrite(path, render_edge_photo(scene).bgr);
  return path;
}

TEST(EdgeCommand, WithoutAPhotoTheCommandIsWrong) {
  EXPECT_EQ(run({"edge"}).status, kBadInput);
  EXPECT_EQ(run({"edge", "no-such.jpg", "--thickness", "4"}).status, kBadInput);
}

TEST(EdgeCommand, PrintsOneObjectWithTheContractsKeysAndNothingElse) {
  const TempDir folder;
  const Outcome r = run({"edge", photo_in(folder.path(), 26), "--thickness", "4.0", "--laid", "9", "--json"});
  EXPECT_EQ(r.status, kDone);
  const auto json = nlohmann::json::parse(r.out);
  for (const char* key : {"side", "status", "reason", "plies", "plies_range", "plies_best", "px_per_ply", "band_px",
                          "face_visible", "laid", "thickness_mm", "ply_thickness_mm", "delaminations"})
    EXPECT_TRUE(json.contains(key)) << key;
  EXPECT_EQ(json["status"], "sure");
  EXPECT_EQ(json["plies"], 8);
  EXPECT_EQ(json["laid"]["verdict"], "mismatch");
}

TEST(EdgeCommand, WithoutThicknessAStripBesideTheEdgeGivesTheScale) {
  const TempDir folder;
  const EdgeWithStripPhoto drawn = draw_edge_with_strip({});
  const std::string path = (folder.path() / "edge-top.png").string();
  cv::imwrite(path, drawn.bgr);
  const Outcome r = run({"edge", path, "--strip-bar", "140.0", "--json"});
  EXPECT_EQ(r.status, kDone);
  const auto json = nlohmann::json::parse(r.out);
  EXPECT_EQ(json["scale"]["source"], "strip");
  EXPECT_NEAR(json["thickness_mm"]["mean"].get<double>(), drawn.thickness_mm, 0.01 * drawn.thickness_mm);
  const Outcome both = run({"edge", path, "--thickness", "12.0"});
  EXPECT_NE(both.out.find("not flush"), std::string::npos);
}

TEST(EdgeCommand, WithoutThicknessAndStripPliesAreCountedAndTheMissingScaleIsSaid) {
  const TempDir folder;
  const std::string photo = photo_in(folder.path(), 26);
  const Outcome r = run({"edge", photo});
  EXPECT_EQ(r.status, kDone);
  EXPECT_NE(r.out.find("No scale"), std::string::npos);
  const auto json = nlohmann::json::parse(run({"edge", photo, "--json"}).out);
  EXPECT_EQ(json["scale"]["source"], "none");
  EXPECT_TRUE(json["thickness_mm"].is_null());
}

TEST(EdgeCommand, TooFewPixelsExitWithOneAndSayHowMuchCloser) {
  const TempDir folder;
  const Outcome r = run({"edge", photo_in(folder.path(), 6), "--thickness", "4.0"});
  EXPECT_EQ(r.status, kPartlyAnswered);
  EXPECT_NE(r.out.find("closer"), std::string::npos);
}

TEST(EdgeCommand, WritesTheOverlayWhole) {
  const TempDir folder;
  const std::string overlay = (folder.path() / "drawn.png").string();
  EXPECT_EQ(run({"edge", photo_in(folder.path(), 26), "--thickness", "4.0", "--overlay", overlay}).status, kDone);
  EXPECT_EQ(cv::imread(overlay).cols, 1400);
}

// A phone shows the whole picture 390 px wide; letters of 8 px and more are read there (common practice, no source).
TEST(EdgeCommand, TheOverlaysWordsAreReadOnAPhone) {
  const TempDir folder;
  const std::string photo = photo_in(folder.path(), 26), overlay = (folder.path() / "drawn.png").string();
  run({"edge", photo, "--thickness", "4.0", "--overlay", overlay});
  cv::Mat changed;
  cv::absdiff(cv::imread(photo), cv::imread(overlay), changed);
  cv::cvtColor(changed.rowRange(0, 120), changed, cv::COLOR_BGR2GRAY);
  const cv::Rect words = cv::boundingRect(changed > 60);
  EXPECT_GE(words.height * 390.0 / 1400.0, 8.0);
  EXPECT_LT(words.br().x, 1400);
}

}  // namespace
}  // namespace sheetloupe::cli
