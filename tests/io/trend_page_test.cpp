#include "sheetloupe/io/trend_page.h"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "sheetloupe/io/demo.h"

namespace sheetloupe {
namespace {

std::vector<LogRow> rows_of(const std::vector<Inspected>& sheets) {
  std::vector<LogRow> rows;
  for (const Inspected& i : sheets) {
    LogRow row;
    row.added = i.made + "T12:00:00Z";
    row.inspected = i;
    row.blanks = static_cast<int>(i.blanks.size());
    rows.push_back(row);
  }
  return rows;
}

bool has(const std::string& page, const std::string& words) { return page.find(words) != std::string::npos; }

TEST(TrendPage, EmptyLogIsAPageThatSaysSo) {
  const auto model = trend_model({}, {});
  EXPECT_EQ(model["sheets"]["count"], 0);
  const std::string page = trend_page(model);
  EXPECT_TRUE(has(page, "No sheet in the log fits."));
  EXPECT_TRUE(has(page, "not enough sheets yet"));
}

TEST(TrendPage, OneSheetIsAPointWithoutLimits) {
  auto sheets = demo_log_sheets();
  sheets.resize(1);
  const auto model = trend_model(rows_of(sheets), {});
  ASSERT_FALSE(model["charts"].empty());
  EXPECT_FALSE(model["charts"][0]["enough"].get<bool>());
  EXPECT_FALSE(model["effects"]["enough"].get<bool>());
  EXPECT_TRUE(has(trend_page(model), "Points only, no limits: not enough sheets yet: 1 of 8."));
}

// The demo's last sheet has a weave turn far beyond the others.
TEST(TrendPage, SheetThatStandsApartIsTheHeadline) {
  const auto model = trend_model(rows_of(demo_log_sheets()), {});
  EXPECT_TRUE(has(model["headline"]["title"], "H-030 stands apart: "));
  EXPECT_TRUE(has(model["headline"]["title"], "weave turn"));
  for (const auto& chart : model["charts"]) EXPECT_FALSE(chart["sentence"].get<std::string>().empty());
}

// Warm resin, clamps and mould were given their effects when the demo's sheets were made up; the cure has none.
TEST(TrendPage, EffectsPutIntoTheDemoAreFoundAndOnlyThose) {
  const auto model = trend_model(rows_of(demo_log_sheets()), {});
  bool warm = false, clamps = false;
  for (const auto& row : model["effects"]["rows"]) {
    if (row["reads"] != "moves with it") continue;
    EXPECT_NE(row["key"], "cure_h");
    if (row["key"] == "resin_c" && row["measure"] == "pinholes_per_dm2") warm = row["change"].get<double>() < 0;
    if (row["key"] == "clamps" && row["measure"] == "resin_rich_percent") clamps = row["change"].get<double>() < 0;
    EXPECT_TRUE(has(row["sentence"], "A lead, not proof"));
  }
  EXPECT_TRUE(warm);
  EXPECT_TRUE(clamps);
}

TEST(TrendPage, CrowdOfTheDemoIsFoundInItsPlace) {
  const auto density = trend_model(rows_of(demo_log_sheets()), {})["density"];
  EXPECT_EQ(density["left_out"], 4);  // every seventh has no datum
  const int columns = density["columns"].get<int>();
  const double cell = density["cell_mm"].get<double>();
  int crowded = 0;
  for (std::size_t i = 0; i < density["cells"].size(); ++i) {
    if (!density["cells"][i]["crowded"].get<bool>()) continue;
    ++crowded;
    const double x = (static_cast<int>(i) % columns + 0.5) * cell, y = (static_cast<int>(i) / columns + 0.5) * cell;
    EXPECT_GT(x, 190);
    EXPECT_TRUE(y > 20 && y < 90) << y;
  }
  EXPECT_GE(crowded, 1);
}

TEST(TrendPage, OutcomesAreHeldAgainstTheForecast) {
  const auto sheets = demo_log_sheets();
  const auto outcomes = demo_log_outcomes(sheets);
  auto rows = rows_of(sheets);
  for (LogRow& row : rows)
    for (const LogOutcome& o : outcomes)
      if (o.sheet == row.inspected.sheet) ++(o.result == "good" ? row.good : row.bad);
  const auto model = trend_model(rows, outcomes);
  EXPECT_EQ(model["forecast"]["judged"], outcomes.size());
  EXPECT_NEAR(model["forecast"]["percent"].get<double>(), 96.4, 2.0);  // made up with 3.6 % spoiled
  EXPECT_EQ(model["spoiled"]["bars"][0]["cause"], "pinhole");
}

TEST(TrendPage, NamesFromTheShopAreMadeSafe) {
  auto sheets = demo_log_sheets();
  for (Inspected& i : sheets) i.recipe["<b>"] = std::string(i.sheet < "H-016" ? "<script>" : "x");
  sheets.back().sheet = "<img>";
  const std::string page = trend_page(trend_model(rows_of(sheets), {}));
  EXPECT_FALSE(has(page, "<img>"));
  EXPECT_FALSE(has(page, "<script>\""));
  EXPECT_FALSE(has(page, ": <script>"));
}

TEST(TrendPage, SelfContained) {
  const std::string page = trend_page(trend_model(rows_of(demo_log_sheets()), {}));
  EXPECT_FALSE(has(page, "http://"));
  EXPECT_FALSE(has(page, "https://"));
  EXPECT_FALSE(has(page, "nan"));
}

}  // namespace
}  // namespace sheetloupe
