#include "sheetloupe/io/report_json.h"

#include <gtest/gtest.h>

#include <limits>
#include <nlohmann/json.hpp>

#include "io/report/json_figures.h"

namespace sheetloupe {
namespace {

TEST(ReportJson, NotANumberIsWrittenAsNull) {
  EXPECT_TRUE(figure(std::numeric_limits<double>::quiet_NaN(), 2).is_null());
  EXPECT_TRUE(figure(std::numeric_limits<double>::infinity(), 2).is_null());
}

TEST(ReportJson, FiguresAreRoundedAndNeverMinusZero) {
  EXPECT_EQ(figure(1.23456, 2).dump(), "1.23");
  EXPECT_EQ(figure(-0.0001, 2).dump(), "0.0");
}

TEST(ReportJson, NoFaceGivesAnEmptyListAndTheSheetIsKept) {
  const auto json = report_to_json({}, {{"id", "H-001"}});
  EXPECT_EQ(json["schema_version"], 1);
  EXPECT_EQ(json["sheet"]["id"], "H-001");
  EXPECT_TRUE(json["faces"].empty());
}

TEST(ReportJson, FaceWithoutScaleHasNothingInMillimetres) {
  FaceResult face;
  face.role = "front";
  face.status = FaceStatus::measured_in_px;
  face.reason = "no strip is in the picture";
  const auto json = face_to_json(face);
  EXPECT_EQ(json["status"], "measured_in_px");
  EXPECT_TRUE(json["scale"]["mm_per_px"].is_null());
  EXPECT_FALSE(json["scale"]["reason"].get<std::string>().empty());
  EXPECT_FALSE(json["outline"].contains("corners_mm"));
  EXPECT_FALSE(json.contains("weave"));
}

TEST(ReportJson, EdgeThatCannotBeReadHasNullCountAndAReason) {
  EdgeReading edge;
  edge.verdict = PlyVerdict::cannot_tell;
  edge.reason = "4 px per ply";
  const auto json = edge_to_json(edge);
  EXPECT_EQ(json["status"], "cannot_tell");
  EXPECT_TRUE(json["plies"].is_null());
  EXPECT_TRUE(json["thickness_mm"].is_null());
  EXPECT_EQ(json["reason"], "4 px per ply");
}

}  // namespace
}  // namespace sheetloupe
