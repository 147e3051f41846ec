#include "sheetloupe/io/strict_json.h"

#include <gtest/gtest.h>

#include "sheetloupe/io/orders_json.h"
#include "sheetloupe/io/sheet_folder.h"
#include "sheetloupe/io/usable_json.h"
#include "support/refusal.h"

namespace sheetloupe {
namespace {

std::string sheet_message(const std::string& text) {
  return refusal([&] { parse_sheet_facts(text, "H-001/sheet.json", "H-001"); });
}

TEST(StrictJson, EmptyObjectIsGood) { EXPECT_EQ(parse_sheet_facts("{}", "sheet.json", "H-001").id, "H-001"); }

struct Bad {
  const char* text;
  const char* says;  // part of the one message
};

void PrintTo(const Bad& bad, std::ostream* out) { *out << bad.says; }

class BadSheet : public testing::TestWithParam<Bad> {};

TEST_P(BadSheet, GivesOneMessageThatNamesThePlace) {
  const std::string text = sheet_message(GetParam().text);
  EXPECT_NE(text.find(GetParam().says), std::string::npos) << text;
  EXPECT_NE(text.find("H-001/sheet.json"), std::string::npos) << text;
}

INSTANTIATE_TEST_SUITE_P(
    Table, BadSheet,
    testing::Values(Bad{"", "not valid JSON"}, Bad{"{", "line 1"}, Bad{"[1]", "JSON object"},
                    Bad{"{\"thicknes_mm\": 6}", "thickness_mm"}, Bad{"{\"thickness_mm\": \"6\"}", "thickness_mm"},
                    Bad{"{\"thickness_mm\": -6}", "thickness_mm"}, Bad{"{\"thickness_mm\": 1e308}", "thickness_mm"},
                    Bad{"{\"thickness_mm\": NaN}", "not valid JSON"}, Bad{"{\"id\": \"a\", \"id\": \"b\"}", "twice"},
                    Bad{"{\"schema_version\": 2}", "schema_version"}, Bad{"{\"size_mm\": [240]}", "list of 2"},
                    Bad{"{\"size_mm\": 240}", "size_mm"}, Bad{"{\"top\": \"strip-9\"}", "strip-0"},
                    Bad{"{\"warp\": \"z\"}", "one of x, y"}, Bad{"{\"plies_laid\": 2.5}", "whole number"},
                    Bad{"{\"strip_length_mm\": 25.0}", "from 225 to 275"}, Bad{"{\"recipe\": 3}", "object"},
                    Bad{"{\"edge_from_mm\": {\"topp\": 4}}", "\"top\""},
                    Bad{"{\"thickness_at_mm\": [[1, 2]]}", "thickness_at_mm"}));

TEST(StrictJson, TenThousandBracketsAreRefusedBeforeParsing) {
  EXPECT_NE(sheet_message("{\"recipe\": " + std::string(10000, '[') + std::string(10000, ']') + "}").find("nested"),
            std::string::npos);
}

TEST(StrictJson, ByteOrderMarkIsPassedOver) {
  EXPECT_EQ(parse_sheet_facts("\xEF\xBB\xBF{\"id\": \"H-9\"}", "x", "y").id, "H-9");
}

TEST(StrictJson, EveryKeyOfASheetIsTaken) {
  const SheetFacts f = parse_sheet_facts(
      R"({"schema_version":1,"id":"H-014","made":"2026-03-02","thickness_mm":6.1,"strip_length_mm":250.0,"strip_bar_mm":140.0,"strip_height_mm":0.0,
          "top":"strip-2","size_mm":[240.0,180.0],"sides_mm":[240.0,180.1,239.8,180.0],"diagonals_mm":[300.1,299.7],"size_u95_mm":0.6,"plies_laid":12,
          "fabric":"twill-2x2-6k-300","warp":"y","turned":"top-bottom","thickness_at_mm":[[0,0,6.2]],"edge_from_mm":{"top":40.0},"recipe":{"resin_g":310}})",
      "sheet.json", "x");
  EXPECT_EQ(f.datum_strip, 2);
  EXPECT_EQ(f.standards.sides_mm->at(2), 239.8);
  EXPECT_EQ(f.standards.diagonals_mm.size(), 2U);
  EXPECT_TRUE(f.warp_along_y);
  EXPECT_EQ(f.turned, Turned::top_bottom);
  EXPECT_EQ(f.edge_from_mm.at("top"), 40.0);
}

const std::string kRing = R"({"name":"a","us_size":10,"wall_mm":2.2,"width_mm":5,"count":4})",
                  kSaw = R"({"name":"30","outer_mm":30,"kerf_mm":1.5})";
std::string orders(const std::string& ring, const std::string& saw, const std::string& more = "") {
  return "{\"schema_version\":1,\"rings\":[" + ring + "],\"saws\":[" + saw + "]" + more + "}";
}

TEST(Orders, GoodOrdersAreReadInMillimetres) {
  const Orders o = parse_orders(orders(kRing, kSaw, ",\"web_mm\":2"), "orders.json");
  EXPECT_NEAR(o.rings[0].inner_diameter_mm, 19.761, 1e-3);
  EXPECT_EQ(o.web_mm, 2.0);
  EXPECT_EQ(o.rings[0].count, 4);
}

TEST(Orders, FillHasNoCount) {
  EXPECT_FALSE(parse_orders(orders(R"({"iso_size":57,"wall_mm":2,"width_mm":5,"count":"fill"})", kSaw), "o")
                   .rings[0]
                   .count.has_value());
}

class BadOrders : public testing::TestWithParam<Bad> {};
TEST_P(BadOrders, GivesOneMessage) {
  const std::string text = refusal([&] { parse_orders(GetParam().text, "orders.json"); });
  EXPECT_NE(text.find(GetParam().says), std::string::npos) << text;
}
INSTANTIATE_TEST_SUITE_P(
    Table, BadOrders,
    testing::Values(
        Bad{"{}", "rings"}, Bad{R"({"rings":[{"wall_mm":2,"width_mm":5,"count":1}],"saws":[]})", "one size"},
        Bad{R"({"rings":[{"us_size":7,"iso_size":57,"wall_mm":2,"width_mm":5,"count":1}],"saws":[]})", "one size"},
        Bad{R"({"rings":[{"us_size":7.1,"wall_mm":2,"width_mm":5,"count":1}],"saws":[]})", "quarters"},
        Bad{R"({"rings":[{"uk_size":"pp","wall_mm":2,"width_mm":5,"count":1}],"saws":[]})", "letter"},
        Bad{R"({"rings":[{"us_size":7,"width_mm":5,"count":1}],"saws":[]})", "wall_mm"},
        Bad{R"({"rings":[{"us_size":7,"wall_mm":2,"width_mm":5,"count":"all"}],"saws":[]})", "fill"},
        Bad{R"({"rings":[{"us_size":7,"wall_mm":2,"width_mm":5,"count":1}],"saws":[]})", "saw"},
        Bad{R"({"rings":[{"us_size":7,"wall_mm":2,"width_mm":5,"count":1}],"saws":[{"outer_mm":3,"kerf_mm":2}]})",
            "half"},
        Bad{R"({"rings":[{"us_size":7,"wall_mm":2,"width_mm":5,"count":1}],"saws":[{"outer_mm":30,"kerf_mm":2}],"web":2})",
            "web_mm"}));

class BadMap : public testing::TestWithParam<Bad> {};
TEST_P(BadMap, GivesOneMessage) {
  const std::string text = refusal([&] { parse_usable_map(GetParam().text, "usable.geojson"); });
  EXPECT_NE(text.find(GetParam().says), std::string::npos) << text;
}
INSTANTIATE_TEST_SUITE_P(
    Table, BadMap,
    testing::Values(
        Bad{"{}", "type"}, Bad{R"({"type":"Feature"})", "FeatureCollection"},
        Bad{R"({"type":"FeatureCollection","features":[{"type":"Feature"}]})", "properties"},
        Bad{R"({"type":"FeatureCollection","features":[{"properties":{"kind":"lake"},"geometry":{"type":"Polygon","coordinates":[]}}]})",
            "kind"},
        Bad{R"({"type":"FeatureCollection","features":[{"properties":{"kind":"outline"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1]]]}}]})",
            "closed"},
        Bad{R"({"type":"FeatureCollection","features":[{"properties":{"kind":"outline"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[0,0]]]}}]})",
            "short"},
        Bad{R"({"type":"FeatureCollection","features":[{"properties":{"kind":"outline"},"geometry":{"type":"Point","coordinates":[0,0]}}]})",
            "Polygon"},
        Bad{R"({"type":"FeatureCollection","features":[{"properties":{"kind":"defect"},"geometry":{"type":"Point","coordinates":["a",0]}}]})",
            "coordinate"}));

TEST(UsableMapJson, RoundTripKeepsEveryFeature) {
  UsableMap map;
  map.sheet_id = "H-003";
  map.thickness_mm = 6.1;
  map.position_u95_mm = 0.2;
  MapFeature outline;
  outline.polygon = {{{0, 0}, {240, 0}, {240, 180}, {0, 180}}, {{{10, 10}, {20, 10}, {20, 20}}}};
  MapFeature hole;
  hole.kind = FeatureKind::defect;
  hole.defect = "pinhole";
  hole.face = "back";
  hole.id = "B3";
  hole.point = Circle{{120.5, 44}, Mm(0.4)};
  MapFeature thin = outline;
  thin.kind = FeatureKind::thin_zone;
  thin.thickness_mm = 5.5;
  map.features = {outline, hole, thin};
  const UsableMap back = parse_usable_map(usable_map_to_json(map).dump(), "x");
  ASSERT_EQ(back.features.size(), 3U);
  EXPECT_EQ(back.sheet_id, "H-003");
  EXPECT_EQ(back.features[0].polygon.holes.size(), 1U);
  EXPECT_NEAR(back.features[1].point->radius.value(), 0.4, 1e-9);
  EXPECT_EQ(back.features[2].thickness_mm, 5.5);
}

}  // namespace
}  // namespace sheetloupe
