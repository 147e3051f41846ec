#include <gmock/gmock.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/usable_json.h"
#include "support/run_words.h"
#include "support/sheets.h"
#include "support/temp_dir.h"

namespace sheetloupe::cli {
namespace {

class PlaceCommand : public testing::Test {
 protected:
  PlaceCommand() {
    write_file(folder_ / "map.geojson", usable_map_to_json(spoiled_sheet(4, 120, 90, 6, 1)).dump());
    write_orders(2);
  }
  void write_orders(int count) {
    write_file(
        folder_ / "orders.json",
        R"({"schema_version": 1, "rings": [{"name": "A", "iso_size": 57, "wall_mm": 2.2, "width_mm": 5, "count": )" +
            std::to_string(count) + R"(}], "saws": [{"name": "30", "outer_mm": 30, "kerf_mm": 1.5}], "web_mm": 2})");
  }
  Outcome place(std::vector<std::string> more = {}) {
    std::vector<std::string> words{"place",    (folder_ / "map.geojson").string(),
                                   "--orders", (folder_ / "orders.json").string(),
                                   "--effort", "0.05"};
    words.insert(words.end(), more.begin(), more.end());
    return run(words);
  }
  TempDir folder_;
};

TEST_F(PlaceCommand, WritesPlanListAndTemplateBesideAHandWrittenMap) {
  const Outcome o = place();
  EXPECT_EQ(o.status, kDone) << o.err;
  for (const char* name : {"blanks.json", "blanks.csv", "drill-template.pdf", "drill-template.svg", "placement.png"})
    EXPECT_TRUE(std::filesystem::exists(folder_ / name)) << name;
}

TEST_F(PlaceCommand, APlanThatCannotBeWrittenWholeLeavesTheEarlierOneWhole) {
  ASSERT_EQ(place().status, kDone);
  const std::string drawn = read_file(folder_ / "drill-template.svg"), listed = read_file(folder_ / "blanks.json");
  write_file(folder_ / "report.json", "{");
  write_orders(1);
  EXPECT_EQ(place().status, kBadInput);
  EXPECT_EQ(read_file(folder_ / "drill-template.svg"), drawn);
  EXPECT_EQ(read_file(folder_ / "blanks.json"), listed);
  std::filesystem::remove(folder_ / "report.json");
  ASSERT_EQ(place().status, kDone);
  EXPECT_NE(read_file(folder_ / "drill-template.svg"), drawn);
}

TEST_F(PlaceCommand, AStripLengthThatNoTruePrintHasIsRefused) {
  const Outcome o = place({"--strip-length", "230"});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_FALSE(std::filesystem::exists(folder_ / "drill-template.pdf"));
}

TEST_F(PlaceCommand, JsonIsThePlanAloneOnStandardOutput) {
  const Outcome o = place({"--json"});
  const auto json = nlohmann::json::parse(o.out);
  EXPECT_EQ(json["blanks"].size(), 2U);
  EXPECT_GE(json["bound"]["proven"].get<int>(), json["bound"]["flawless_sheet"].get<int>());
}

TEST_F(PlaceCommand, RingsThatFindNoPlaceGiveStatusOneAndAReason) {
  write_orders(100);
  const Outcome o = place();
  EXPECT_EQ(o.status, kPartlyAnswered);
  EXPECT_THAT(o.out, testing::HasSubstr("not placed"));
}

TEST_F(PlaceCommand, SecondPlanKeepsClearOfTheFirstAndItsNumbers) {
  ASSERT_EQ(place().status, kDone);
  std::filesystem::rename(folder_ / "blanks.json", folder_ / "cut.json");
  const Outcome o = place({"--json", "--taken", (folder_ / "cut.json").string()});
  const auto second = nlohmann::json::parse(o.out);
  const auto first = nlohmann::json::parse(std::ifstream(folder_ / "cut.json"));
  for (const auto& a : first["blanks"]) {
    for (const auto& b : second["blanks"]) {
      EXPECT_NE(a["id"], b["id"]);
      EXPECT_GE(std::hypot(a["centre_mm"][0].get<double>() - b["centre_mm"][0].get<double>(),
                           a["centre_mm"][1].get<double>() - b["centre_mm"][1].get<double>()),
                32 - 1e-3);
    }
  }
}

TEST_F(PlaceCommand, SizesOnWhichTablesDifferAreToldInWordsAndInThePlan) {
  write_file(
      folder_ / "orders.json",
      R"({"rings": [{"uk_size": "P 1/2", "wall_mm": 2.2, "width_mm": 5, "count": 1}], "saws": [{"outer_mm": 30, "kerf_mm": 1.5}]})");
  const Outcome o = place();
  EXPECT_EQ(o.status, kDone) << o.err;
  EXPECT_THAT(o.out, testing::HasSubstr("half a letter"));
  const auto plan = nlohmann::json::parse(std::ifstream(folder_ / "blanks.json"));
  EXPECT_EQ(plan["size_remarks"].size(), 1U);
}

TEST_F(PlaceCommand, WrongOptionsAreOneMessageAndStatusTwo) {
  const struct {
    std::vector<std::string> words;
    std::string says;
  } cases[] = {{{"--pin", "5"}, "--pin"},
               {{"--pin", "a,b"}, "--pin"},
               {{"--pin", "nan,1"}, "--pin"},
               {{"--pin", "1,2,3"}, "--pin"},
               {{"--pin", "1,1"}, "pinned place"},
               {{"--avoid", "1,2"}, "--avoid"},
               {{"--avoid", "1,2,-3"}, "--avoid"},
               {{"--effort", "0"}, "--effort"},
               {{"--effort", "much"}, "--effort"},
               {{"--face", "left"}, "--face"},
               {{"--paper", "a3"}, "--paper"},
               {{"--strip-length", "230"}, "--strip-length"},
               {{"--taken", "none.json"}, "none.json"},
               {{"--tekan", "none.json"}, "--tekan"}};
  for (const auto& c : cases) {
    const Outcome o = place(c.words);
    EXPECT_EQ(o.status, kBadInput) << c.words[0] << c.words[1];
    EXPECT_THAT(o.err, testing::HasSubstr(c.says)) << c.words[1];
    EXPECT_FALSE(std::filesystem::exists(folder_ / "blanks.json")) << c.words[0];
  }
}

}  // namespace
}  // namespace sheetloupe::cli
