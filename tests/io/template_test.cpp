#include "sheetloupe/io/template.h"

#include <gmock/gmock.h>

#include "io/paper/tiling.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/strips.h"
#include "support/sheets.h"

namespace sheetloupe {
namespace {

using testing::HasSubstr;
using testing::Not;

Plan one_hole(SheetPoint at) {
  Plan plan;
  Blank b;
  b.id = "H-001-07";
  b.centre = at;
  b.saw_outer_mm = 27;
  b.kerf_mm = 1.5;
  b.inner_diameter_mm = 18;
  b.outer_diameter_mm = 22;
  plan.blanks.push_back(b);
  return plan;
}

TEST(Template, AMapWithoutAnOutlineIsRefused) { EXPECT_THROW(template_pdf(UsableMap{}, Plan{}), InputError); }

TEST(Template, APrintScaleOfAFittedPageIsRefused) {
  TemplateOptions options;
  options.print_scale = 0.94;
  EXPECT_THROW(template_pdf(rectangle_sheet(100, 80), Plan{}, options), InputError);
}

TEST(Template, ASheetInTheWrongUnitIsRefusedRatherThanPrintedOnAThousandPages) {
  EXPECT_THROW(template_pdf(rectangle_sheet(240000, 180000), Plan{}), InputError);
}

TEST(Template, APlanWithoutBlanksStillGivesTheOutline) {
  const std::string svg = template_svg(rectangle_sheet(100, 80), Plan{});
  EXPECT_THAT(svg,
              HasSubstr("<g id=\"outline\">\n<path d=\"M0.000 0.000L100.000 0.000L100.000 80.000L0.000 80.000Z\""));
}

TEST(Template, SvgCoordinatesAreSheetMillimetres) {
  const std::string svg = template_svg(rectangle_sheet(100, 80), one_hole({31.25, 40}));
  EXPECT_THAT(svg, HasSubstr("<circle cx=\"31.250\" cy=\"40.000\" r=\"13.500\""));
  EXPECT_THAT(svg, HasSubstr(">07</text>"));
}

TEST(Template, TheBackIsMirroredAboutTheSheetsWidth) {
  TemplateOptions options;
  options.back = true;
  EXPECT_THAT(template_svg(rectangle_sheet(100, 80), one_hole({31.25, 40}), options),
              HasSubstr("<circle cx=\"68.750\" cy=\"40.000\" r=\"13.500\""));
}

TEST(Template, ADefectOfTheOtherFaceIsNoLayOnCheck) {
  UsableMap map = rectangle_sheet(100, 80);
  map.features.push_back(polygon_feature(FeatureKind::defect, {{60, 60}, {68, 60}, {64, 67}}, "B1"));
  map.features.back().face = "back";
  EXPECT_THAT(template_svg(map, Plan{}), Not(HasSubstr(">B1<")));
  TemplateOptions options;
  options.back = true;
  EXPECT_THAT(template_svg(map, Plan{}, options), HasSubstr(">B1<"));
}

TEST(Template, PrintsCarryNoDateSoThatTheSameInputGivesTheSameBytes) {
  const auto print = [] { return template_pdf(rectangle_sheet(100, 80), one_hole({31.25, 40})); };
  EXPECT_EQ(print(), print());
  EXPECT_THAT(print(), Not(HasSubstr("CreationDate")));
  EXPECT_THAT(strips_pdf(StripPaper::a4), Not(HasSubstr("CreationDate")));
}

TEST(Template, AnIdWithMarkupIsWrittenAsText) {
  UsableMap map = rectangle_sheet(100, 80);
  map.sheet_id = "<b>&";
  EXPECT_THAT(template_svg(map, Plan{}), HasSubstr("&lt;b&gt;&amp;: drilling"));
}

TEST(Tiling, WhatFitsTakesOnePage) {
  const auto t = paper::tile(100, 100, {});
  EXPECT_EQ(t.pages, 1);
  EXPECT_DOUBLE_EQ(t.window(0), 100);
}

TEST(Tiling, PagesCoverTheWholeWithoutExceedingTheirRoom) {
  for (double total = 101; total < 1000; total += 13.7) {
    const auto t = paper::tile(total, 100, {30, 95, 97, 180});
    double reached = 0;
    for (int k = 0; k < t.pages; ++k) {
      EXPECT_LE(t.window(k), 100 + 1e-9) << total;
      EXPECT_LE(k * t.step, reached) << total;
      reached = k * t.step + t.window(k);
    }
    EXPECT_NEAR(reached, total, 1e-9);
  }
}

TEST(Tiling, TheSeamKeepsAwayFromACentreWhenThereIsRoom) {
  const double greedy_seam = paper::tile(150, 100, {}).seam(0);
  EXPECT_GE(std::abs(paper::tile(150, 100, {greedy_seam}).seam(0) - greedy_seam), 5.0);
}

TEST(PlacementPicture, ShowsThePictureWhereItLiesOnTheSheet) {
  FlatPicture face;
  face.bgr = cv::Mat(1000, 1200, CV_8UC3, cv::Scalar(20, 20, 20));
  face.origin = {-10, -10};
  // A green square of 10 mm about sheet (70, 50): columns 750 to 850, rows 550 to 650 at 0.1 mm.
  face.bgr(cv::Rect(750, 550, 100, 100)).setTo(cv::Scalar(0, 200, 0));
  const cv::Mat picture = draw_placement(rectangle_sheet(100, 80), Plan{}, face);
  cv::Mat green;
  cv::inRange(picture, cv::Scalar(0, 120, 0), cv::Scalar(40, 255, 40), green);
  std::vector<cv::Point> pixels;
  cv::findNonZero(green, pixels);
  ASSERT_FALSE(pixels.empty());
  cv::Scalar mean = cv::mean(pixels);
  const double scale = picture.cols / (100 * 1.09);  // 4.5 % of the longer side around the sheet
  EXPECT_NEAR((mean[0] + 0.5) / scale - 4.5, 70, 0.1);
  EXPECT_NEAR((mean[1] + 0.5) / scale - 4.5, 50, 0.1);
}

TEST(PlacementPicture, NeverExceedsItsSize) {
  const cv::Mat picture = draw_placement(rectangle_sheet(600, 400), one_hole({100, 100}));
  EXPECT_LE(std::max(picture.cols, picture.rows), 2400);
  EXPECT_EQ(picture.type(), CV_8UC3);
}

}  // namespace
}  // namespace sheetloupe
