#include "sheetloupe/io/usable_json.h"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "sheetloupe/errors.h"
#include "support/sheets.h"

namespace sheetloupe {
namespace {

std::string with_feature(const std::string& properties, const std::string& geometry) {
  return R"({"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {)" + properties +
         R"(}, "geometry": {)" + geometry + "}}]}";
}
const std::string kSquare = R"("type": "Polygon", "coordinates": [[[0,0],[10,0],[10,10],[0,10],[0,0]]])";

TEST(UsableJson, WrittenMapReadsBackTheSame) {
  UsableMap map = spoiled_sheet(3, 120, 80, 4, 2);
  map.thickness_mm = 6.1;
  map.position_u95_mm = 0.2;
  map.features[0].polygon.holes.push_back({{10, 10}, {20, 10}, {20, 20}});
  map.features.push_back(polygon_feature(FeatureKind::thin_zone, {{0, 0}, {9, 0}, {9, 9}}));
  map.features.back().thickness_mm = 5.2;
  const std::string text = usable_map_to_json(map).dump();
  const UsableMap again = parse_usable_map(text, "usable.geojson");
  EXPECT_EQ(usable_map_to_json(again).dump(), text);
  ASSERT_EQ(again.features.size(), map.features.size());
  EXPECT_EQ(again.features[0].polygon.holes.size(), 1U);
  EXPECT_EQ(again.thickness_mm, 6.1);
}

TEST(UsableJson, MultiPolygonBecomesOneFeatureAPart) {
  const UsableMap map = parse_usable_map(
      with_feature(
          R"("kind": "outline")",
          R"("type": "MultiPolygon", "coordinates": [[[[0,0],[9,0],[9,9],[0,0]]], [[[20,0],[29,0],[29,9],[20,0]]]])"),
      "m");
  EXPECT_EQ(map.features.size(), 2U);
}

TEST(UsableJson, EveryMistakeIsOneMessageThatNamesIt) {
  const auto ring = [](const std::string& points) {
    return with_feature(R"("kind": "outline")", R"("type": "Polygon", "coordinates": [[)" + points + "]]");
  };
  const struct {
    std::string text, says;
  } cases[] = {
      {"", "JSON"},
      {"[]", "object"},
      {"{}", "FeatureCollection"},
      {R"({"type": "Feature", "features": []})", "FeatureCollection"},
      {R"({"type": "FeatureCollection", "unit": "inch", "features": []})", "unit"},
      {R"({"type": "FeatureCollection", "frame": "photo", "features": []})", "frame"},
      {R"({"type": "FeatureCollection", "schema_version": 9, "features": []})", "schema_version"},
      {R"({"type": "FeatureCollection", "position_u95_mm": -1, "features": []})", "position_u95_mm"},
      {R"({"type": "FeatureCollection", "features": {}})", "features"},
      {R"({"type": "FeatureCollection", "sheet": {"thickness_mm": 0}, "features": []})", "thickness_mm"},
      {with_feature(R"("kind": "hole")", kSquare), "kind"},
      {with_feature(R"("face": "front")", kSquare), "kind"},
      {with_feature(R"("kind": "defect", "face": "left")", kSquare), "face"},
      {with_feature(R"("kind": "thin_zone")", kSquare), "thickness_mm"},
      {with_feature(R"("kind": "outline")", R"("type": "LineString", "coordinates": [[0,0],[1,1]])"), "Polygon"},
      {with_feature(R"("kind": "outline")", R"("type": "Point", "coordinates": [0,0])"), "only a defect"},
      {with_feature(R"("kind": "outline")", R"("type": "Polygon")"), "coordinates"},
      {ring("[0,0],[10,0],[10,10],[0,10]"), "not closed"},
      {ring("[0,0],[10,0],[0,0]"), "too short"},
      {ring(R"([0,"0"],[10,0],[10,10],[0,"0"])"), "coordinate"},
      {ring("[0,0],[1e9,0],[10,10],[0,0]"), "coordinate"},
      {R"({"type": "FeatureCollection", "features": [7]})", "features"},
  };
  for (const auto& c : cases) {
    try {
      parse_usable_map(c.text, "map.geojson");
      ADD_FAILURE() << "accepted: " << c.text;
    } catch (const InputError& e) {
      EXPECT_THAT(e.what(), testing::HasSubstr(c.says)) << c.text;
      EXPECT_THAT(e.what(), testing::HasSubstr("map.geojson")) << c.text;
    }
  }
}

}  // namespace
}  // namespace sheetloupe
