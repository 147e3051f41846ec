#include "sheetloupe/thickness.h"

#include <gtest/gtest.h>

namespace sheetloupe {
namespace {

const Ring kSheet = {{0, 0}, {240, 0}, {240, 180}, {0, 180}};

TEST(ThicknessField, NoPointsGiveNoField) {
  EXPECT_TRUE(ThicknessField({}).empty());
  EXPECT_TRUE(thin_zones(ThicknessField({}), kSheet, 6, 0.1).empty());
}

TEST(ThicknessField, OnePointIsTheThicknessEverywhere) {
  const ThicknessField field({{{120, 90}, 6.1}});
  EXPECT_NEAR(field.at({0, 0}), 6.1, 1e-9);
}

TEST(ThicknessField, PointsInOneLineSayNothingAcrossIt) {
  const ThicknessField field({{{0, 0}, 6.0}, {{80, 0}, 6.0}, {{160, 0}, 6.0}, {{240, 0}, 6.0}});
  EXPECT_NEAR(field.at({120, 180}), 6.0, 1e-9);
}

TEST(ThicknessField, FourCornersGiveTheTwistedPlaneBetweenThem) {
  const ThicknessField field({{{0, 0}, 6.2}, {{240, 0}, 6.0}, {{240, 180}, 5.6}, {{0, 180}, 6.1}});
  EXPECT_NEAR(field.at({120, 90}), (6.2 + 6.0 + 5.6 + 6.1) / 4, 1e-6);
  EXPECT_NEAR(field.at({0, 0}), 6.2, 1e-6);
}

TEST(ThicknessField, TheThinCornerBecomesZonesWithTheirLeastThickness) {
  const ThicknessField field({{{0, 0}, 6.0}, {{240, 0}, 6.0}, {{240, 180}, 5.0}, {{0, 180}, 6.0}});
  const auto zones = thin_zones(field, kSheet, 6.0, 0.1);
  ASSERT_FALSE(zones.empty());
  for (const ThinZone& zone : zones) {
    EXPECT_GE(zone.thickness_mm, 4.99);
    EXPECT_LT(zone.thickness_mm, 5.9);
    for (const SheetPoint& p : zone.polygon.outer) EXPECT_LE(zone.thickness_mm, field.at(p) + 0.03);
  }
  EXPECT_TRUE(thin_zones(ThicknessField({{{0, 0}, 6.0}}), kSheet, 6.0, 0.1).empty());
}

// The front face is up and the viewer stands outside: going right along the top side is going left in the front photo.
TEST(EdgeProfile, RunsAlongItsSideAsSeenFromOutside) {
  EdgeReading edge;
  edge.thickness_at_mm = {{0, 6.0}, {10, 6.1}};
  const auto at = [&](const char* side, std::size_t i) {
    edge.side = side;
    return locate_profile(edge, 40, 240, 180).at(i).at;
  };
  EXPECT_NEAR(at("top", 1).x, 190, 1e-9);
  EXPECT_NEAR(at("top", 1).y, 0, 1e-9);
  EXPECT_NEAR(at("right", 1).x, 240, 1e-9);
  EXPECT_NEAR(at("right", 1).y, 130, 1e-9);
  EXPECT_NEAR(at("bottom", 1).x, 50, 1e-9);
  EXPECT_NEAR(at("left", 1).y, 50, 1e-9);
}

TEST(EdgeProfile, WhatLiesBeyondTheCornerIsLeftOut) {
  EdgeReading edge;
  edge.side = "bottom";
  edge.thickness_at_mm = {{0, 6.0}, {30, 6.1}};
  EXPECT_EQ(locate_profile(edge, 220, 240, 180).size(), 1U);
}

}  // namespace
}  // namespace sheetloupe
