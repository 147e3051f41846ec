#include "sheetloupe/usable_build.h"

#include <gtest/gtest.h>

#include "sheetloupe/polygon_ops.h"
#include "support/matchers.h"

namespace sheetloupe {
namespace {

FaceFindings plain_face(const std::string& role, double width, double height) {
  FaceFindings face;
  face.role = role;
  face.width_mm = width;
  face.height_mm = height;
  face.outline = {{0, 0}, {width, 0}, {width, height}, {0, height}};
  return face;
}

Defect pinhole(const std::string& id, SheetPoint at) {
  Defect defect;
  defect.id = id;
  defect.kind = DefectLabel::pinhole;
  defect.centre = at;
  defect.max_diameter = Mm(0.8);
  return defect;
}

TEST(UsableBuild, NoFaceGivesAnEmptyMap) {
  EXPECT_TRUE(build_usable_map({}, Turned::left_right, 0.2, "H-001", {}).features.empty());
}

TEST(UsableBuild, CleanFaceGivesItsOutlineOnly) {
  const UsableMap map = build_usable_map({plain_face("front", 200, 100)}, Turned::left_right, 0.2, "H-001", 6.0);
  ASSERT_EQ(map.features.size(), 1U);
  EXPECT_EQ(map.features[0].kind, FeatureKind::outline);
  EXPECT_EQ(map.thickness_mm, 6.0);
}

TEST(UsableBuild, BackTurnedLeftRightIsMirroredAboutTheVerticalAxis) {
  FaceFindings back = plain_face("back", 200, 100);
  back.defects.items.push_back(pinhole("B1", {30, 20}));
  const UsableMap map = build_usable_map({plain_face("front", 200, 100), back}, Turned::left_right, 0.2, "", {});
  ASSERT_EQ(map.features.size(), 2U);
  ASSERT_TRUE(map.features[1].point.has_value());
  EXPECT_THAT(map.features[1].point->centre, IsNearPoint(SheetPoint{170, 20}, 1e-9));
  EXPECT_EQ(map.features[1].face, "back");
}

TEST(UsableBuild, ASuspectKeepsRingsAwayLikeADefectAndIsNamedOne) {
  FaceFindings front = plain_face("front", 200, 100);
  front.defects.suspects.push_back(pinhole("FS1", {30, 20}));
  const UsableMap map = build_usable_map({front}, Turned::left_right, 0.2, "", {});
  ASSERT_EQ(map.features.size(), 2U);
  EXPECT_EQ(map.features[1].kind, FeatureKind::defect);
  EXPECT_EQ(map.features[1].defect, "suspect");
  EXPECT_EQ(map.features[1].id, "FS1");
}

TEST(UsableBuild, BackTurnedTopBottomIsMirroredAboutTheHorizontalAxis) {
  const SheetPoint front =
      front_from_back({30, 20}, plain_face("front", 200, 100), plain_face("back", 200, 100), Turned::top_bottom);
  EXPECT_THAT(front, IsNearPoint(SheetPoint{30, 80}, 1e-9));
}

TEST(UsableBuild, LabelPolygonCoversItsPixelsWholeAndKeepsHoles) {
  cv::Mat labels(100, 100, CV_8UC1, cv::Scalar(0));
  labels(cv::Rect(20, 20, 40, 40)) = 255;
  labels(cv::Rect(30, 30, 20, 20)) = 0;
  const auto polygons = polygons_of_label(labels, DefectLabel::not_judged, 0.1, {0, 0});
  ASSERT_EQ(polygons.size(), 1U);
  EXPECT_EQ(polygons[0].holes.size(), 1U);
  EXPECT_TRUE(contains(polygons[0], {2.0, 2.0}));  // corner of the first marked pixel
  EXPECT_TRUE(contains(polygons[0], {5.999, 5.999}));
  EXPECT_FALSE(contains(polygons[0], {4.0, 4.0}));
  EXPECT_FALSE(contains(polygons[0], {1.9, 1.9}));
}

TEST(UsableRegion, NothingIsLeftOfNothing) {
  EXPECT_TRUE(usable_region({}).empty());
  EXPECT_EQ(usable_share({}).fraction, 0.0);
}

TEST(UsableRegion, CleanSheetIsUsableWhole) {
  const UsableShare share =
      usable_share(build_usable_map({plain_face("front", 200, 100)}, Turned::left_right, 0.2, "", {}));
  EXPECT_NEAR(share.area_mm2, 20000, 1e-6);
  EXPECT_NEAR(share.fraction, 1, 1e-12);
}

TEST(UsableRegion, SizesOfDefectsOnBothFacesMakeTheShareUncertain) {
  const UsableMap map = build_usable_map({plain_face("front", 200, 100)}, Turned::left_right, 0.2, "", {});
  EXPECT_EQ(usable_fraction_u95({}, {}), 0.0);
  EXPECT_EQ(usable_fraction_u95(map, {}), 0.0);
  DefectAnalysis front, back;
  front.items.resize(1);
  front.items[0].area_u95_mm2 = 30;
  back.items.resize(1);
  back.items[0].area_u95_mm2 = 40;
  EXPECT_NEAR(usable_fraction_u95(map, {front, back}), 50.0 / 20000, 1e-9);  // 3, 4, 5
}

TEST(UsableBuild, AnAreaIsKeptClearOfByAsFarAsItsOutlineMayBeOff) {
  FaceFindings front = plain_face("front", 200, 100);
  Defect dry;
  dry.area_mm2 = 100;
  dry.polygon = {{10, 10}, {20, 10}, {20, 20}, {10, 20}};
  dry.keep_clear = Mm(0.4);
  front.defects.items.push_back(dry);
  const UsableMap map = build_usable_map({front}, Turned::left_right, 0.2, "", 6.0);
  ASSERT_EQ(map.features.size(), 2U);
  // Steiner's formula: the area, the border times the distance, and a whole circle at the corners.
  EXPECT_NEAR(area_mm2(Region{map.features[1].polygon}), 100 + 40 * 0.4 + 3.14159 * 0.16, 0.5);
  EXPECT_TRUE(contains(map.features[1].polygon, {15, 20.35}));
  EXPECT_FALSE(contains(map.features[1].polygon, {15, 20.45}));
  EXPECT_EQ(map.features[1].area_mm2, 100);
}

TEST(UsableRegion, DefectsOfBothFacesLeaveHolesAndThinZonesNone) {
  FaceFindings front = plain_face("front", 200, 100), back = plain_face("back", 200, 100);
  front.defects.items.push_back(pinhole("F1", {100, 50}));
  Defect dry;
  dry.id = "B1";
  dry.polygon = {{10, 10}, {20, 10}, {20, 20}, {10, 20}};
  back.defects.items.push_back(dry);
  UsableMap map =
      build_usable_map({front, back}, Turned::left_right, 0.2, "", 6.0, {{{{{0, 0}, {50, 0}, {50, 50}}, {}}, 5.0}});
  const std::vector<Polygon> left = usable_region(map);
  ASSERT_EQ(left.size(), 1U);
  EXPECT_EQ(left[0].holes.size(), 2U);
  EXPECT_FALSE(contains(left[0], {185, 15}));  // the back's spot, mirrored
  EXPECT_TRUE(contains(left[0], {15, 15}));
  // 0.8 mm hole: 0.503 mm2, at most 1.8 % more by its polygon.
  EXPECT_NEAR(usable_share(map).area_mm2, 20000 - 100 - 0.503, 0.01);
  add_usable_features(map);
  EXPECT_EQ(map.features.back().kind, FeatureKind::usable);
  EXPECT_NEAR(*map.features.back().area_mm2, 20000 - 100 - 0.503, 0.01);
}

TEST(UsableRegion, BarredBandPartsTheSheetInTwo) {
  FaceFindings front = plain_face("front", 200, 100);
  front.weave_zones.push_back({});
  front.weave_zones[0].polygon = {{{90, -5}, {110, -5}, {110, 105}, {90, 105}}, {}};
  const UsableMap map = build_usable_map({front}, Turned::left_right, 0.2, "", {});
  EXPECT_EQ(usable_region(map).size(), 2U);
  EXPECT_NEAR(usable_share(map).fraction, 0.9, 1e-9);
}

}  // namespace
}  // namespace sheetloupe
