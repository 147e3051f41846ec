#include "sheetloupe/io/report_page.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <opencv2/imgcodecs.hpp>

#include "io/page/embedded_pictures.h"
#include "io/page/facts.h"
#include "io/page/turn_map.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/images.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

using testing::HasSubstr;
using testing::Not;

std::string page_of(const Json& report, const Json& usable = nullptr, const Json& blanks = nullptr) {
  return report_page(report, usable, blanks, {});
}

Json square(double x, double y, double side) {
  return Json::array({Json::array({{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}, {x, y}})});
}

// A face of 100 x 80 mm as the inspection writes it, with the given defects.
Json measured_face(const Json& items) {
  return {{"role", "front"},
          {"status", "measured"},
          {"reason", nullptr},
          {"advice", Json::array()},
          {"scale", {{"source", "strips"}, {"mm_per_px", 0.1}, {"position_u95_mm", 0.35}}},
          {"outline", {{"width_mm", 100.0}, {"height_mm", 80.0}, {"side_u95_mm", 0.5}}},
          {"weave", {{"pattern", "unknown"}, {"warp_deg", nullptr}, {"reason", "the photo is blurred"}}},
          {"defects", {{"smallest_pinhole_mm", 0.5}, {"judged_fraction", 1.0}, {"items", items}}}};
}

Json report_of(const Json& face) {
  return {{"schema_version", 1},        {"tool", {{"name", "sheetloupe"}, {"version", "0.1.0"}}},
          {"sheet", {{"id", "H-001"}}}, {"faces", Json::array({face})},
          {"edges", Json::array()},     {"usable", {{"fraction", 0.9}}}};
}

Json map_with(const Json& features) {
  Json all = Json::array({{{"type", "Feature"},
                           {"properties", {{"kind", "outline"}}},
                           {"geometry", {{"type", "Polygon"}, {"coordinates", square(0, 0, 100)}}}}});
  for (const Json& feature : features) all.push_back(feature);
  return {{"type", "FeatureCollection"}, {"features", all}};
}

Json pinhole_item(const std::string& id) {
  return {{"id", id},          {"kind", "pinhole"},   {"centre_mm", {30.0, 40.0}},
          {"area_mm2", 0.785}, {"area_u95_mm2", 0.3}, {"max_diameter_mm", 1.0},
          {"confidence", 0.95}};
}

Json pinhole_feature(const std::string& id) {
  return {
      {"type", "Feature"},
      {"properties", {{"kind", "defect"}, {"defect", "pinhole"}, {"face", "front"}, {"id", id}, {"diameter_mm", 1.0}}},
      {"geometry", {{"type", "Point"}, {"coordinates", {30.0, 40.0}}}}};
}

Json plan_with_core_over(const std::string& id) {
  return {{"blanks", Json::array({{{"id", "H-001-01"},
                                   {"ring", "A"},
                                   {"centre_mm", {31.0, 40.0}},
                                   {"saw", "27"},
                                   {"saw_outer_mm", 27.0},
                                   {"kerf_mm", 1.5},
                                   {"inner_diameter_mm", 18.0},
                                   {"outer_diameter_mm", 22.0},
                                   {"clearance_mm", 3.0},
                                   {"harmless_defects", {id}}}})},
          {"unplaced", Json::array()},
          {"bound", {{"proven", 9}, {"flawless_sheet", 8}}}};
}

TEST(ReportPage, AnEmptyReportStillGivesAPageThatSaysSo) {
  const std::string page = page_of(Json::object());
  EXPECT_THAT(page, HasSubstr("Cannot tell: the front was not measured."));
  EXPECT_THAT(page, HasSubstr("Before you cut"));
}

TEST(ReportPage, ValuesOfAWrongKindAreCannotTellNotAnEnd) {
  const std::string page =
      page_of({{"sheet", 3}, {"faces", "x"}, {"edges", nullptr}, {"grade", 1}, {"usable", "y"}}, 5, "z");
  EXPECT_THAT(page, HasSubstr("Cannot tell"));
}

TEST(ReportPage, NothingFoundNamesTheSmallestPinholeThatWouldShow) {
  const std::string page = page_of(report_of(measured_face(Json::array())), map_with(Json::array()));
  EXPECT_THAT(page, HasSubstr("nothing found from 0.5\u00a0mm up"));
  EXPECT_THAT(page, HasSubstr("90.0 <span class=\"u\">\u00b10.0</span> %"));
}

TEST(ReportPage, APinholeHasItsDiameterWithUncertaintyAndAPlaceInThePicture) {
  const std::string page = page_of(report_of(measured_face(Json::array({pinhole_item("F1")}))),
                                   map_with(Json::array({pinhole_feature("F1")})));
  // The circle of 0.785 mm2 is 1.0 mm across; 2 x 0.3 / (pi x 1.0) = 0.19.
  EXPECT_THAT(page, HasSubstr("\u2300 <span class=\"nb\">1.0 <span class=\"u\">\u00b10.2</span> mm</span>"));
  EXPECT_THAT(page, HasSubstr("data-id=\"F1\" data-x=\"30.0\" data-y=\"40.0\""));
  EXPECT_THAT(page, HasSubstr("No plan yet"));
}

TEST(ReportPage, ADefectInACoreIsToldAsDrilledAway) {
  const Json report = report_of(measured_face(Json::array({pinhole_item("F1")})));
  EXPECT_THAT(page_of(report, map_with(Json::array({pinhole_feature("F1")})), plan_with_core_over("F1")),
              HasSubstr("Core of 01: drilled away"));
  EXPECT_THAT(page_of(report, map_with(Json::array({pinhole_feature("F1")})), plan_with_core_over("F9")),
              HasSubstr("No ring takes it"));
}

TEST(ReportPage, WithoutALengthStandardNothingIsDrawnInMillimetres) {
  Json face = measured_face(Json::array());
  face["status"] = "measured_in_px";
  face["reason"] = "no strip is in the picture";
  const std::string page = page_of(report_of(face));
  EXPECT_THAT(page, HasSubstr("Measured in pixels only"));
  EXPECT_THAT(page, HasSubstr("no strip is in the picture"));
  EXPECT_THAT(page, Not(HasSubstr("id=\"view\"")));
}

TEST(ReportPage, NamesFromFilesCannotBreakOutOfThePage) {
  Json report = report_of(measured_face(Json::array({pinhole_item("</script><b>")})));
  report["sheet"]["id"] = "<img src=x onerror=alert(1)>";
  report["remarks"] = {"a \"quoted\" <i>remark</i>"};
  const std::string page = page_of(report, map_with(Json::array({pinhole_feature("</script><b>")})));
  EXPECT_THAT(page, Not(HasSubstr("<img src=x")));
  EXPECT_THAT(page, Not(HasSubstr("</script><b>")));
  EXPECT_THAT(page, Not(HasSubstr("<i>remark")));
}

TEST(ReportPage, ItAsksForNothingFromOutside) {
  const std::string page = page_of(report_of(measured_face(Json::array({pinhole_item("F1")}))),
                                   map_with(Json::array({pinhole_feature("F1")})));
  for (const char* word : {"http://", "https://", "url(//", "@import"}) EXPECT_THAT(page, Not(HasSubstr(word))) << word;
}

TEST(ReportPage, TheGradesLimitsStandOnTheirLine) {
  Json report = report_of(measured_face(Json::array()));
  report["grade"] = {{"rubric", "ring-making"},
                     {"grade", "B"},
                     {"could_be", "A"},
                     {"meaning", "usable"},
                     {"reasons", {"dry area: too large"}},
                     {"remarks", Json::array()},
                     {"limits",
                      {{{"words", "dry area"},
                        {"unit", "%"},
                        {"value", 0.6},
                        {"value_u95", 0.2},
                        {"low", 0.4},
                        {"high", 0.8},
                        {"rule", "at most"},
                        {"A", {{"limit", 0.5}, {"verdict", "too close to call"}}},
                        {"B", {{"limit", 3.0}, {"verdict", "passes"}}}}}}};
  const std::string page = page_of(report, map_with(Json::array()));
  EXPECT_THAT(page, HasSubstr("Grade B."));
  EXPECT_THAT(page, HasSubstr("On the limit of A"));
  EXPECT_THAT(page, HasSubstr("It may be A"));
}

TEST(ReportPage, APlanMadeForAnotherMapIsNotShown) {
  const TempDir dir;
  const std::string map = map_with(Json::array()).dump();
  write_file(dir / "report.json", report_of(measured_face(Json::array())).dump());
  write_file(dir / "usable.geojson", map);
  Json plan = plan_with_core_over("F1");
  plan["map_sha256"] = sha256_hex(map);
  write_file(dir / "blanks.json", plan.dump());
  write_report_page(dir.path());
  EXPECT_THAT(read_file(dir / "report.html"), HasSubstr("H-001-01"));
  write_file(dir / "usable.geojson", map_with(Json::array({pinhole_feature("F1")})).dump());
  write_report_page(dir.path());
  EXPECT_THAT(read_file(dir / "report.html"), Not(HasSubstr("H-001-01")));
  EXPECT_THAT(read_file(dir / "report.html"), HasSubstr("Run place again"));
}

TEST(ReportPage, EveryRingThatIsAsTightAsTheTightestIsNamed) {
  Json plan = plan_with_core_over("F1");
  Json other = plan["blanks"][0];
  plan["blanks"][0]["clearance_mm"] = 0.12;
  other["id"] = "H-001-02";
  other["clearance_mm"] = 0.15;
  plan["blanks"].push_back(other);
  other["id"] = "H-001-03";
  other["clearance_mm"] = 0.6;
  plan["blanks"].push_back(other);
  const std::string page = page_of(report_of(measured_face(Json::array())), map_with(Json::array()), plan);
  EXPECT_THAT(page, HasSubstr("Saw rings <b>01</b> and <b>02</b> last. Only 0.1\u00a0mm"));
}

TEST(ReportPage, ASuspectInARingsCoreIsCalledOne) {
  Json suspect = pinhole_feature("FS1");
  suspect["properties"]["defect"] = "suspect";
  const std::string page =
      page_of(report_of(measured_face(Json::array())), map_with(Json::array({suspect})), plan_with_core_over("FS1"));
  EXPECT_THAT(page, HasSubstr("FS1, a suspect"));
}

TEST(ReportPage, TheFibreVolumeCanBeReckonedAgain) {
  Json report = report_of(measured_face(Json::array()));
  report["laminate"] = {{"plies", 12},         {"fibre_volume_fraction", 0.383}, {"fibre_volume_fraction_u95", 0.017},
                        {"areal_g_m2", 343.0}, {"fibre_density_g_cm3", 1.76},    {"thickness_mm", 6.1}};
  // 12 x 343 g/m2 / (1.76 g/cm3 x 6.1 mm) = 0.383
  EXPECT_THAT(page_of(report), HasSubstr("12 plies of 343\u00a0g/m\u00b2 cloth, over fibre of 1.76\u00a0g/cm\u00b3 "
                                         "times 6.1\u00a0mm of sheet"));
}

TEST(ReportPage, TheFootSaysWhereTheTimeWentWhenThatIsKnown) {
  const TempDir dir;
  write_file(dir / "report.json", report_of(measured_face(Json::array())).dump());
  write_file(dir / "usable.geojson", map_with(Json::array()).dump());
  write_report_page(dir.path());
  EXPECT_THAT(read_file(dir / "report.html"), Not(HasSubstr("The inspection took")));
  write_file(dir / "times.json", R"({"schema_version": 1, "total_s": 6.12, "parts": [
      {"part": "front", "s": 4.0, "stages": [{"stage": "outline", "s": 0.9}, {"stage": "defects", "s": 3.1}]},
      {"part": "usable map", "s": 0.01, "stages": []}]})");
  write_report_page(dir.path());
  EXPECT_THAT(read_file(dir / "report.html"), HasSubstr("The inspection took 6.1\u00a0s"));
  EXPECT_THAT(read_file(dir / "report.html"), HasSubstr("front 4.0 (defects 3.1, outline 0.9).<"));
}

TEST(ReportPage, AReportOfAnotherMakeIsBadInputNotABug) {
  const TempDir dir;
  write_file(dir / "report.json", report_of(measured_face(Json::array({"not a defect"}))).dump());
  write_file(dir / "usable.geojson", map_with(Json::array()).dump());
  EXPECT_THROW(write_report_page(dir.path()), InputError);
}

TEST(ReportPage, PicturesTooLargeForItAreMadeSmallerAndKeepTheirPlace) {
  // Noise does not compress: the worst that a camera can bring.
  const TempDir dir;
  cv::Mat3b noise(2000, 2000);
  cv::RNG(7).fill(noise, cv::RNG::UNIFORM, 0, 255);
  std::vector<uchar> bytes;
  cv::imencode(".jpg", noise, bytes, {cv::IMWRITE_JPEG_QUALITY, 95});
  const std::string jpeg(bytes.begin(), bytes.end());
  ASSERT_GT(jpeg.size(), 3'000'000U);
  write_file(dir / "maps" / "front_flat.jpg", jpeg);
  write_file(dir / "maps" / "back_flat.jpg", jpeg);
  write_file(dir / "edge-top_overlay.png", jpeg);
  const auto pictures = page::embedded_pictures(dir.path());
  ASSERT_EQ(pictures.size(), 3U);
  std::size_t total = 0;
  for (const auto& [name, picture] : pictures) {
    total += picture.jpeg.size();
    EXPECT_EQ(picture.columns, 2000) << name;
  }
  // Three more edges may come; base64 adds a third; 0.7 MB are left for text and shapes.
  EXPECT_LT(4 * (total + 450'000) / 3, 5'300'000U);
}

TEST(ReportPage, APictureThatDoesNotDecodeIsLeftOut) {
  const TempDir dir;
  write_file(dir / "maps" / "front_flat.jpg", "no picture");
  EXPECT_TRUE(page::embedded_pictures(dir.path()).empty());
}

TEST(PageFigures, AreasTurnToSquareCentimetresAtAThousand) {
  EXPECT_THAT(page::area(999.4, 10), HasSubstr("999 <span class=\"u\">\u00b110</span> mm\u00b2"));
  EXPECT_THAT(page::area(1000, 120), HasSubstr("10.0 <span class=\"u\">\u00b11.2</span> cm\u00b2"));
}

TEST(PageFigures, MinusIsATrueMinusAndNeverBeforeZero) {
  EXPECT_EQ(page::number(-1.25, 1), "\u22121.2");
  EXPECT_EQ(page::number(-0.01, 1), "0.0");
}

TEST(PageFigures, DatesAreWordsOnlyWhenTheyAreDates) {
  EXPECT_EQ(page::date_words("2026-03-02"), "2 Mar 2026");
  EXPECT_EQ(page::date_words("2026-13-02"), "2026-13-02");
  EXPECT_EQ(page::date_words("spring"), "spring");
  EXPECT_EQ(page::date_words(""), "");
}

TEST(PageFigures, APolygonsAreaIsLessItsHoles) {
  Json rings = square(0, 0, 10);
  rings.push_back(square(2, 2, 3)[0]);
  EXPECT_DOUBLE_EQ(page::polygon_area_mm2(rings), 91.0);
}

TEST(TurnMap, NoGridNoMap) {
  EXPECT_EQ(page::turn_map(Json(nullptr)), "");
  EXPECT_EQ(page::turn_map({{"columns", 2}, {"rows", 2}, {"warp_turn_deg", {1}}, {"weft_turn_deg", {1}}}), "");
}

TEST(TurnMap, AContourRunsWhereTheTurnCrossesItsLevel) {
  // Turn grows by 1 degree a column from 0 to 4: the 2 degree contour is the straight line through column 2's centres.
  Json warp = Json::array(), weft = Json::array();
  for (int r = 0; r < 3; ++r) {
    for (int c = 0; c < 5; ++c) {
      warp.push_back(c);
      weft.push_back(0);
    }
  }
  const Json reading = {{"columns", 5},          {"rows", 3},
                        {"step_mm", 10.0},       {"origin_mm", {0.0, 0.0}},
                        {"warp_turn_deg", warp}, {"weft_turn_deg", weft}};
  EXPECT_EQ(page::turn_scale_deg(reading), 4);
  EXPECT_THAT(page::turn_map(reading), HasSubstr("M25.0 5.0L25.0 15.0"));
}

}  // namespace
}  // namespace sheetloupe
