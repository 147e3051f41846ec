#include "sheetloupe/io/fabrics_json.h"

#include <gtest/gtest.h>

#include "sheetloupe/errors.h"

namespace sheetloupe {
namespace {

TEST(FabricsJson, TheListThatComesAlongReadsWhole) {
  const std::vector<Fabric>& all = known_fabrics();
  ASSERT_GT(all.size(), 20U);
  for (const Fabric& f : all) {
    EXPECT_GT(tow_pitch(f).value(), 1.0) << f.name;
    EXPECT_LT(tow_pitch(f).value(), 4.5) << f.name;
  }
}

TEST(FabricsJson, AnEmptyListIsNoCloth) {
  EXPECT_TRUE(parse_fabrics(R"({"schema_version": 1, "fibre_density_g_cm3": 1.76, "fabrics": []})", "f").empty());
}

TEST(FabricsJson, WrongEntriesAreRefused) {
  const auto with = [](const std::string& entries) {
    return R"({"schema_version": 1, "fibre_density_g_cm3": 1.76, "fabrics": [)" + entries + "]}";
  };
  const std::string good = R"({"name": "a", "weave": "plain", "tow": "3K", "tex": 198, "areal_g_m2": 200})";
  EXPECT_EQ(parse_fabrics(with(good), "f").size(), 1U);
  for (const std::string& bad :
       {std::string(R"({"weave": "plain", "tex": 198, "areal_g_m2": 200})"),
        std::string(R"({"name": "a", "weave": "basket", "tex": 198, "areal_g_m2": 200})"),
        std::string(R"({"name": "a", "weave": "plain", "tex": 0, "areal_g_m2": 200})"),
        std::string(R"({"name": "a", "weave": "plain", "tex": 198})"),
        std::string(R"({"name": "a", "weave": "plain", "tex": 198, "areal_g_m2": 200, "colour": "black"})"),
        good + "," + good}) {
    EXPECT_THROW(parse_fabrics(with(bad), "f"), InputError) << bad;
  }
}

}  // namespace
}  // namespace sheetloupe
