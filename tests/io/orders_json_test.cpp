#include "sheetloupe/io/orders_json.h"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>
#include <numbers>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

std::string with_ring(const std::string& ring) {
  return R"({"schema_version": 1, "rings": [{"name": "A", "wall_mm": 2.2, "width_mm": 5, "count": 1, )" + ring +
         R"(}], "saws": [{"name": "30", "outer_mm": 30, "kerf_mm": 1.5}]})";
}

double inner(const std::string& ring) {
  return parse_orders(with_ring(ring), "orders.json").rings.at(0).inner_diameter_mm;
}

// US sizes: published rows of an encyclopaedia table (size 1 12.45, 2 13.26, 4 14.88 mm).
TEST(OrdersJson, UsSizesMatchPublishedRows) {
  EXPECT_NEAR(inner("\"us_size\": 1"), 12.45, 0.005);
  EXPECT_NEAR(inner("\"us_size\": 2"), 13.26, 0.005);
  EXPECT_NEAR(inner("\"us_size\": 4"), 14.88, 0.005);
  EXPECT_NEAR(inner("\"us_size\": 10.25"), 25.4 * (0.458 + 0.032 * 10.25), 1e-9);
}

// ISO 8653: the size is the inner circumference. UK: C is 40 mm round (second-hand). JIS S 4700: size 1 is 13 mm.
TEST(OrdersJson, IsoUkAndJapaneseSizesAreTheirDefinitions) {
  EXPECT_NEAR(inner("\"iso_size\": 57"), 57 / std::numbers::pi, 1e-9);
  EXPECT_NEAR(inner("\"uk_size\": \"C\""), 40 / std::numbers::pi, 1e-9);
  EXPECT_NEAR(inner("\"uk_size\": \"P 1/2\""), (37.5 + 1.25 * 15.5) / std::numbers::pi, 1e-9);
  EXPECT_NEAR(inner("\"jp_size\": 1"), 13.0, 1e-9);
  EXPECT_NEAR(inner("\"jp_size\": 7"), 15.0, 1e-9);
}

TEST(OrdersJson, RemarksOnSizesAreToldOnceEach) {
  Orders orders = parse_orders(with_ring("\"uk_size\": \"Z+1\""), "orders.json");
  orders.rings.push_back(orders.rings[0]);
  orders.rings.push_back(parse_orders(with_ring("\"iso_size\": 57"), "orders.json").rings[0]);
  EXPECT_THAT(size_remarks(orders), testing::ElementsAre(testing::HasSubstr("UK Z+1")));
}

TEST(OrdersJson, EveryMistakeIsOneMessageThatNamesItsPlace) {
  const struct {
    std::string text, says;
  } cases[] = {
      {"", "JSON"},
      {"[]", "object"},
      {"{}", "rings"},
      {with_ring("\"us_size\": 10, \"iso_size\": 57"), "one of us_size"},
      {with_ring("\"us_size\": 10.1"), "us_size"},
      {with_ring("\"us_size\": -1"), "us_size"},
      {with_ring("\"uk_size\": \"p\""), "uk_size"},
      {with_ring("\"uk_size\": \"P 1/4\""), "uk_size"},
      {with_ring("\"iso_size\": \"57\""), "iso_size"},
      {with_ring("\"inner_diameter_mm\": 1e400"), "orders.json"},
      {with_ring("\"iso_size\": 57, \"colour\": 1"), "colour"},
      {with_ring("\"iso_size\": 57, \"priority\": 0"), "priority"},
      {with_ring("\"iso_size\": 57, \"accept_pinhole_mm\": -0.1"), "accept_pinhole_mm"},
      {R"({"schema_version": 2, "rings": []})", "schema_version"},
      {R"({"rings": [{"name": "A", "iso_size": 57, "wall_mm": 2, "width_mm": 5, "count": "all"}], "saws": []})",
       "count"},
      {R"({"rings": [{"name": "A", "iso_size": 57, "wall_mm": 2, "width_mm": 5, "count": 1}],
           "saws": [{"outer_mm": 3, "kerf_mm": 1.5}]})",
       "kerf_mm"},
  };
  for (const auto& c : cases) {
    try {
      parse_orders(c.text, "orders.json");
      ADD_FAILURE() << "accepted: " << c.text;
    } catch (const InputError& e) {
      EXPECT_THAT(e.what(), testing::HasSubstr(c.says)) << c.text;
      EXPECT_THAT(e.what(), testing::HasSubstr("orders.json"));
    }
  }
}

TEST(OrdersJson, SawKitOfTheModelsFolderIsUsedWhenTheOrdersGiveNone) {
  const Orders orders = parse_orders(
      R"({"rings": [{"name": "A", "iso_size": 57, "wall_mm": 2, "width_mm": 5, "count": 1}]})", "orders.json");
  EXPECT_GE(orders.saws.size(), 3U);
}

Plan one_blank() {
  Plan plan;
  Blank b;
  b.id = "H-001-01";
  b.ring = "A, \"wide\"";
  b.centre = {25.4, 50.8};
  b.saw = "30";
  b.saw_outer_mm = 30;
  b.clearance_mm = std::numeric_limits<double>::infinity();
  plan.blanks.push_back(b);
  return plan;
}

TEST(OrdersJson, CsvGivesMillimetresAndInchesAndQuotesNames) {
  const std::string csv = plan_to_csv(one_blank());
  EXPECT_THAT(csv, testing::HasSubstr("H-001-01,\"A, \"\"wide\"\"\",30,25.40,50.80,1.0000,2.0000\r\n"));
}

TEST(OrdersJson, ClearanceWithoutAnyDefectIsNullAndThePlanReadsBackAsTakenHoles) {
  const auto json = plan_to_json(one_blank());
  EXPECT_TRUE(json["blanks"][0]["clearance_mm"].is_null());
  const TempDir folder;
  write_file(folder / "blanks.json", json.dump());
  const auto taken = read_taken(folder / "blanks.json");
  ASSERT_EQ(taken.size(), 1U);
  EXPECT_NEAR(taken[0].centre.x, 25.4, 1e-9);
  EXPECT_EQ(taken[0].radius.value(), 15.0);
}

}  // namespace
}  // namespace sheetloupe
