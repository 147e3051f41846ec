#include "sheetloupe/io/rubric_json.h"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/grade_json.h"
#include "support/refusal.h"

namespace sheetloupe {
namespace {

const std::string kGood = R"({"schema_version": 1, "name": "ours", "grades": {"A": "a", "B": "b", "C": "c"},
  "limits": [{"measure": "dry_spot_diameter_mm", "at_most": {"A": 14, "B": 19}, "sure": "from memory", "source": "x"}]})";

std::string message(const std::string& text) {
  return refusal([&] { parse_rubric(text, "rubric.json"); });
}

std::string with(const std::string& from, const std::string& to) {
  std::string text = kGood;
  text.replace(text.find(from), from.size(), to);
  return text;
}

TEST(RubricJson, BothShippedRubricsAreReadAndMarkEveryNumber) {
  for (const char* name : {"ring-making", "visual-defects"}) {
    const Rubric rubric = read_rubric(name);
    EXPECT_EQ(rubric.name, name);
    EXPECT_GE(rubric.limits.size(), 5U);
    for (const Limit& limit : rubric.limits) EXPECT_FALSE(limit.source.empty());
  }
}

// Levels II and III of ASTM D2562 / D2563 as remembered; 0.8 mm pits and 10 pits in 64.5 cm2 are confirmed by a public
// table of allowable defects of composite blades.
TEST(RubricJson, VisualLevelsHoldThePublishedFigures) {
  const Rubric rubric = read_rubric("visual-defects");
  const auto limits = [&](Measure m) {
    for (const Limit& l : rubric.limits)
      if (l.measure == m) return std::pair(l.a, l.b);
    return std::pair(-1.0, -1.0);
  };
  EXPECT_EQ(limits(Measure::dry_spot_diameter), std::pair(14.0, 19.0));
  EXPECT_EQ(limits(Measure::pinhole_diameter), std::pair(0.4, 0.8));
  EXPECT_EQ(limits(Measure::resin_rich_diameter), std::pair(3.0, 6.5));
  EXPECT_EQ(limits(Measure::split_length), std::pair(3.0, 6.5));
  EXPECT_EQ(limits(Measure::pinholes_in_zone).first, 10.0);
  EXPECT_NEAR(80.3 * 80.3, 6450, 10);
}

TEST(RubricJson, UnknownNameListsTheKnownOnes) {
  try {
    read_rubric("aerospace");
    FAIL();
  } catch (const InputError& e) {
    EXPECT_NE(std::string(e.what()).find("ring-making, visual-defects"), std::string::npos);
  }
}

TEST(RubricJson, EverySlipIsNamed) {
  EXPECT_EQ(message(kGood), "");
  EXPECT_NE(message(with("dry_spot_diameter_mm", "dryspot")).find("dry_spot_diameter_mm"), std::string::npos);
  EXPECT_NE(message(with("\"sure\": \"from memory\", ", "")).find("sure"), std::string::npos);
  EXPECT_NE(message(with("\"A\": 14", "\"A\": 20")).find("A is looser than B"), std::string::npos);
  EXPECT_NE(message(with("at_most", "at_mots")).find("at_most"), std::string::npos);
  EXPECT_NE(message(with("\"at_most\"", "\"at_least\": {\"A\": 1, \"B\": 0}, \"at_most\"")), "");
  EXPECT_NE(message(with("\"schema_version\": 1", "\"schema_version\": 2")), "");
}

TEST(RubricJson, WrittenRubricReadsBackTheSame) {
  for (const char* name : {"ring-making", "visual-defects"}) {
    const auto json = rubric_to_json(read_rubric(name));
    EXPECT_EQ(rubric_to_json(parse_rubric(json.dump(), name)), json);
  }
}

TEST(GradeJson, ReportWithoutFacesIsNotGradedAndKeepsTheRubric) {
  nlohmann::ordered_json report = {{"faces", nlohmann::ordered_json::array()}};
  put_grade(report, nullptr, read_rubric("visual-defects"));
  EXPECT_EQ(report["grade"]["grade"], "not graded");
  EXPECT_EQ(report["grade"]["rubric"], "visual-defects");
  EXPECT_FALSE(report["grade"]["reasons"].empty());
  EXPECT_EQ(rubric_of_report(report).name, "visual-defects");
}

TEST(GradeJson, FiguresOfAReportReachTheRubric) {
  const auto report = nlohmann::ordered_json::parse(R"({"faces": [{"role": "front", "status": "measured",
    "outline": {"width_mm": 100, "height_mm": 100},
    "weave": {"deviation_deg": {"warp_p95": 1.5, "weft_p95": 2.5}, "shear_deg": {"p95_abs": 1.0}, "local_u95_deg": 0.2},
    "defects": {"smallest_pinhole_mm": 0.3, "judged_fraction": 0.97, "items": [
      {"id": "F1", "kind": "dry_spot", "centre_mm": [20, 30], "area_mm2": 150, "area_u95_mm2": 10,
       "max_diameter_mm": 15, "confidence": 0.95}]}}],
    "edges": [{"side": "top", "laid": {"plies": 12}, "plies_range": [11, 12], "thickness_mm": {"min": 5.9, "max": 6.2, "u95": 0.1}}],
    "usable": {"fraction": 0.9, "fraction_u95": 0.002}})");
  const auto blanks = nlohmann::ordered_json::parse(R"({"yield": {"good": 30, "percent": 81.5}})");
  const GradeInput input = grade_input(report, blanks);
  ASSERT_EQ(input.faces.size(), 1U);
  EXPECT_EQ(input.faces[0].turn_p95_deg, 2.5);
  EXPECT_NEAR(input.faces[0].judged_share, 97, 1e-9);
  EXPECT_EQ(input.faces[0].defects[0].centre.y, 30);
  EXPECT_NEAR(*input.edges[0].spread_mm, 0.3, 1e-9);
  EXPECT_EQ((*input.edges[0].plies_off)[1], 1);
  EXPECT_EQ(*input.usable_share, 90);
  EXPECT_NEAR(*input.usable_share_u95, 0.2, 1e-9);
  EXPECT_EQ(input.yield->share, 81.5);
}

}  // namespace
}  // namespace sheetloupe
