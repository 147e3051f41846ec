// Whole inspections of the photos in test_images against the truth they were drawn from.
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "sheetloupe/inspect.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/inspection_files.h"
#include "sheetloupe/io/report_json.h"
#include "sheetloupe/io/rubric_json.h"

namespace sheetloupe {
namespace {

class Photos : public testing::TestWithParam<std::string> {};

TEST_P(Photos, AreMeasuredToTheirTruth) {
  const std::filesystem::path path = std::filesystem::path(TEST_IMAGES) / GetParam();
  const auto truth = nlohmann::json::parse(read_file(path / "expected.json"));
  const SheetFolder folder = read_sheet_folder(path);
  const Inspection inspection =
      inspect_sheet(load_inspect_input(folder), options_for(folder.facts, read_rubric(kDefaultRubric)));
  const FaceResult& front = inspection.faces.at(0);
  ASSERT_EQ(front.status, FaceStatus::measured) << front.reason;
  EXPECT_NEAR(front.width_mm, truth["width_mm"], front.side_u95_mm);
  EXPECT_NEAR(front.height_mm, truth["height_mm"], front.side_u95_mm);
  for (int i = 0; i < 4; ++i) {
    // A pixel is some 0.16 mm here.
    EXPECT_LT(distance_px(front.outline.corners_px[i], {truth["corners_px"][i][0], truth["corners_px"][i][1]}),
              truth["most_corner_px"].get<double>())
        << i;
  }
  const auto json = face_to_json(front);
  EXPECT_EQ(json["weave"]["pattern"], truth["pattern"]);
  EXPECT_NEAR(wrap_turn_degrees(front.weave.warp.degrees() - truth["warp_deg"].get<double>()), 0.0, 0.3);
  EXPECT_NEAR(wrap_turn_degrees(front.weave.weft.degrees() - truth["weft_deg"].get<double>()), 0.0, 0.3);
  EXPECT_NEAR(front.weave.warp_pitch.value(), truth["pitch_mm"], 0.02);
  int found = 0;
  for (const auto& defect : truth["defects"]) {
    for (const auto& item : json["defects"]["items"]) {
      if (item["kind"] != defect["kind"]) continue;
      const SheetPoint a{item["centre_mm"][0], item["centre_mm"][1]}, b{defect["at_mm"][0], defect["at_mm"][1]};
      if (distance_mm(a, b) < 2.0) {
        ++found;
        break;
      }
    }
  }
  EXPECT_GE(found, static_cast<int>(truth["defects"].size()));
  EXPECT_LE(static_cast<int>(json["defects"]["items"].size()) - found, truth["most_false"].get<int>());
}

INSTANTIATE_TEST_SUITE_P(All, Photos, testing::Values("H-010", "H-011", "H-012"));

}  // namespace
}  // namespace sheetloupe
