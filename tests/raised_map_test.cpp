// A sheet that is thicker at one end, seen by a camera whose formulas are not the program's.
#include <gtest/gtest.h>

#include <cmath>

#include "sheetloupe/scale.h"
#include "support/synthetic_strips.h"

namespace sheetloupe {
namespace {

// The top face over a level table: four unequal corners, between them a twisted plane.
struct UnevenSheet {
  SyntheticScene scene;
  CornerRise rise;
  std::array<SheetPoint, 4> corners;  // table mm
  Scale level;
  std::array<ImagePoint, 4> corners_px;

  explicit UnevenSheet(std::array<double, 4> mm) {
    rise = {mm, scene.width, scene.height};
    corners = scene.sheet_corners();
    for (std::size_t i = 0; i < 4; ++i) corners_px[i] = scene.seen(corners[i].x, corners[i].y, scene.thickness + mm[i]);
    Dice dice(1);
    ScaleInput input = scene.input(dice);
    input.corners_px = corners_px;
    input.standards.strip_length_mm = Measured{250.0, 0.3};
    level = fit_scale(input);
  }

  // Largest error over 11 x 11 places of the face, in the sheet's frame.
  double worst_mm(const SheetMap& map) const {
    double worst = 0;
    for (int i = 0; i <= 10; ++i) {
      for (int j = 0; j <= 10; ++j) {
        const double u = i / 10.0, v = j / 10.0;
        const auto mix = [&](double a, double b, double c, double d) {
          return (1 - v) * ((1 - u) * a + u * b) + v * ((1 - u) * d + u * c);
        };
        const auto& c = corners;
        const double x = mix(c[0].x, c[1].x, c[2].x, c[3].x), y = mix(c[0].y, c[1].y, c[2].y, c[3].y);
        const double w = scene.thickness + mix(rise.mm[0], rise.mm[1], rise.mm[2], rise.mm[3]);
        const SheetPoint read = map.sheet_from_image(scene.seen(x, y, w));
        worst = std::max(worst, distance_mm(read, {u * scene.width, v * scene.height}));
      }
    }
    return worst;
  }
};

TEST(RaisedMap, WithoutRiseNothingMoves) {
  const UnevenSheet sheet({0, 0, 0, 0});
  ASSERT_NE(sheet.level.map, nullptr);
  const auto map = raised_map(sheet.level.map, sheet.rise, raised_pose(*sheet.level.map, sheet.rise, sheet.corners_px));
  for (const ImagePoint p : {ImagePoint{900, 700}, ImagePoint{2000, 1500}, ImagePoint{3100, 2300}}) {
    EXPECT_LT(distance_mm(map->sheet_from_image(p), sheet.level.map->sheet_from_image(p)), 1e-6);
  }
}

TEST(RaisedMap, AWedgeIsMeasuredTwiceAsWellAsIfItWereLevel) {
  const UnevenSheet sheet({-0.5, 0.5, 0.5, -0.5});
  ASSERT_NE(sheet.level.map, nullptr);
  const auto map = raised_map(sheet.level.map, sheet.rise, raised_pose(*sheet.level.map, sheet.rise, sheet.corners_px));
  EXPECT_LT(sheet.worst_mm(*map), 0.5 * sheet.worst_mm(*sheet.level.map));
  EXPECT_LT(sheet.worst_mm(*map), 0.10);
}

TEST(RaisedMap, ItsFrameStartsAtTheFirstCornerAndRunsToTheSecond) {
  const UnevenSheet sheet({0.6, -0.2, 0.1, -0.5});
  ASSERT_NE(sheet.level.map, nullptr);
  const auto map = raised_map(sheet.level.map, sheet.rise, raised_pose(*sheet.level.map, sheet.rise, sheet.corners_px));
  const SheetPoint first = map->sheet_from_image(sheet.corners_px[0]),
                   second = map->sheet_from_image(sheet.corners_px[1]);
  EXPECT_NEAR(first.x, 0, 1e-6);
  EXPECT_NEAR(first.y, 0, 1e-6);
  EXPECT_NEAR(second.y, 0, 1e-6);
  EXPECT_NEAR(second.x, sheet.scene.width, 0.15);
}

TEST(RaisedMap, ThereAndBackIsTheSamePixel) {
  const UnevenSheet sheet({2.0, -1.0, 1.0, -2.0});
  ASSERT_NE(sheet.level.map, nullptr);
  const auto map = raised_map(sheet.level.map, sheet.rise, raised_pose(*sheet.level.map, sheet.rise, sheet.corners_px));
  for (double x = 200; x < 4000; x += 400) {
    for (double y = 200; y < 3000; y += 400) {
      const ImagePoint back = map->image_from_sheet(map->sheet_from_image({x, y}));
      EXPECT_NEAR(back.x, x, 1e-3);
      EXPECT_NEAR(back.y, y, 1e-3);
    }
  }
}

}  // namespace
}  // namespace sheetloupe
