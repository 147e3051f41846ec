#include "sheetloupe/usable_build.h"

#include <gtest/gtest.h>

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

}  // namespace
}  // namespace sheetloupe
