#include "sheetloupe/geometry.h"

#include <gtest/gtest.h>

namespace sheetloupe {
namespace {

const Polygon kSquareWithHole = {{{0, 0}, {10, 0}, {10, 10}, {0, 10}}, {{{4, 4}, {6, 4}, {6, 6}, {4, 6}}}};

TEST(Geometry, EmptyRingHasNoAreaAndNoCentre) {
  EXPECT_EQ(area_mm2(Ring{}), 0.0);
  EXPECT_EQ(centroid({}).x, 0.0);
  EXPECT_TRUE(std::isinf(distance_to_ring_mm({}, {1, 1})));
}

TEST(Geometry, OnePointIsItsOwnCentre) { EXPECT_EQ(centroid({{3, 4}}).y, 4.0); }

TEST(Geometry, AreaDoesNotDependOnWinding) {
  EXPECT_DOUBLE_EQ(area_mm2(Ring{{0, 0}, {4, 0}, {4, 3}}), 6.0);
  EXPECT_DOUBLE_EQ(area_mm2(Ring{{4, 3}, {4, 0}, {0, 0}}), 6.0);
}

TEST(Geometry, HoleIsNotInside) {
  EXPECT_DOUBLE_EQ(area_mm2(kSquareWithHole), 96.0);
  EXPECT_TRUE(contains(kSquareWithHole, {2, 2}));
  EXPECT_FALSE(contains(kSquareWithHole, {5, 5}));
  EXPECT_FALSE(contains(kSquareWithHole, {11, 5}));
}

TEST(Geometry, DistanceToRingCountsTheClosingSide) {
  EXPECT_DOUBLE_EQ(distance_to_ring_mm({{0, 0}, {10, 0}, {10, 10}, {0, 10}}, {-2, 5}), 2.0);
}

TEST(Geometry, AxesRepeatEvery180Degrees) {
  EXPECT_DOUBLE_EQ(Axis::from_degrees(-1).degrees(), 179.0);
  EXPECT_DOUBLE_EQ(Axis::from_degrees(360).degrees(), 0.0);
  EXPECT_LT(Axis::from_degrees(-1e-20).degrees(), 180.0);
  EXPECT_DOUBLE_EQ(Axis::from_degrees(179).degrees_from(Axis::from_degrees(1)), -2.0);
  EXPECT_DOUBLE_EQ(wrap_turn_degrees(-90), 90.0);
}

}  // namespace
}  // namespace sheetloupe
