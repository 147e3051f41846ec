#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "sheetloupe/io/atomic_file.h"
#include "support/run_words.h"
#include "support/temp_dir.h"

namespace sheetloupe::cli {
namespace {

// A folder as `inspect` and `place` leave it, without its pictures.
void inspected_folder(const std::filesystem::path& folder, const std::string& id) {
  write_file(folder / "loupe" / "report.json",
             R"({"schema_version": 1, "tool": {"version": "0.1.0"}, "sheet": {"id": ")" + id +
                 R"(", "made": "2026-03-02", "recipe": {"clamps": 8}}, "faces": [], "edges": [],
                 "grade": {"rubric": "ring-making", "grade": "not graded"}})");
  write_file(folder / "loupe" / "blanks.json", R"({"schema_version": 1, "blanks": [{"id": ")" + id +
                                                   R"(-01", "ring": "band", "centre_mm": [30, 30], "saw_outer_mm": 30}],
                 "bound": {"flawless_sheet": 2}, "yield": {"percent": 50.0, "barred_percent": {"pinhole": 4.0}}})");
}

TEST(LogCommand, EverySubcommandHasHelpWithAnExample) {
  for (const char* name : {"add", "list", "show", "note", "outcome", "export", "check", "gauge"}) {
    const Outcome o = run({"log", name, "--help"});
    EXPECT_EQ(o.status, kDone) << name;
    EXPECT_NE(o.out.find("Example"), std::string::npos) << name;
  }
}

TEST(LogCommand, MissingLogOrFolderIsBadInputWithARemedy) {
  const TempDir dir;
  const std::string db = dir / "log.db";
  EXPECT_EQ(run({"log", "list", "--db", db}).status, kBadInput);
  const Outcome o = run({"log", "add", dir / "H-001", "--db", db});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_NE(o.err.find("no such folder"), std::string::npos);
  EXPECT_FALSE(std::filesystem::exists(db));
}

TEST(LogCommand, SheetGoesInOnceAndItsOutcomesFollow) {
  const TempDir dir;
  const std::string db = dir / "log.db", folder = dir / "H-001";
  inspected_folder(folder, "H-001");
  EXPECT_NE(run({"log", "add", folder, "--db", db}).out.find("added as revision 1"), std::string::npos);
  EXPECT_NE(run({"log", "add", folder, "--db", db}).out.find("already in the log"), std::string::npos);
  EXPECT_EQ(run({"log", "note", "H-001", "new cloth", "--db", db}).status, kDone);
  EXPECT_EQ(run({"log", "outcome", "H-001-01", "--was", "lightning", "--db", db}).status, kBadInput);
  EXPECT_EQ(run({"log", "outcome", "--rest", "H-001", "--was", "pinhole", "--db", db}).status, kDone);
  const auto list = nlohmann::json::parse(run({"log", "list", "--json", "--db", db}).out);
  ASSERT_EQ(list["sheets"].size(), 1U);
  EXPECT_EQ(list["sheets"][0]["outcomes"]["spoiled"], 1);
  EXPECT_EQ(list["sheets"][0]["measures"]["ring_yield_percent"]["value"], 50.0);
  const auto show = nlohmann::json::parse(run({"log", "show", "H-001", "--json", "--db", db}).out);
  EXPECT_EQ(show["notes"][0]["text"], "new cloth");
  EXPECT_EQ(show["revisions"][0]["report"]["sheet"]["id"], "H-001");
  EXPECT_NE(run({"log", "export", "--db", db}).out.find("recipe.clamps"), std::string::npos);
  EXPECT_EQ(nlohmann::json::parse(run({"log", "export", "--format", "json", "--db", db}).out)["outcomes"].size(), 1U);
  EXPECT_EQ(run({"log", "check", "--db", db}).status, kDone);
}

TEST(LogCommand, UnreadableFolderStopsBeforeAnythingIsAdded) {
  const TempDir dir;
  const std::string db = dir / "log.db";
  inspected_folder(dir / "H-001", "H-001");
  EXPECT_EQ(run({"log", "add", dir / "H-001", dir / "H-002", "--db", db}).status, kBadInput);
  EXPECT_FALSE(std::filesystem::exists(db));
}

// Two sheets of 90.5 and 80.5 % usable, photographed twice each, 1 % apart: by hand the repeatability is 0.7071 and the
// sheets scatter by sqrt((100 - 0.5) / 2) = 7.0534; the measuring is 9.975 % of the variation.
TEST(LogCommand, GaugeStudyOfRepeatedPhotos) {
  const TempDir dir;
  std::vector<std::string> words = {"log", "gauge", "--json"};
  for (const auto& [name, share] :
       {std::pair("H-001", "0.90"), {"H-001", "0.91"}, {"H-002", "0.80"}, {"H-002", "0.81"}}) {
    const auto folder = dir / (std::string(name) + share);
    write_file(folder / "loupe" / "report.json", std::string(R"({"schema_version": 1, "sheet": {"id": ")") + name +
                                                     R"("}, "faces": [], "edges": [], "usable": {"fraction": )" +
                                                     share + "}}");
    words.push_back(folder.string());
  }
  const Outcome o = run(words);
  EXPECT_EQ(o.status, kDone);
  const auto study = nlohmann::json::parse(o.out)["measures"][0];
  EXPECT_EQ(study["measure"], "usable_percent");
  EXPECT_NEAR(study["repeatability_sd"].get<double>(), 0.70711, 1e-5);
  EXPECT_NEAR(study["sheet_sd"].get<double>(), 7.05337, 1e-5);
  EXPECT_NEAR(study["gauge_percent"].get<double>(), 9.9752, 6e-3);
  EXPECT_EQ(study["distinct_categories"], 14);
  words.resize(4);
  EXPECT_EQ(run(words).status, kPartlyAnswered);
}

}  // namespace
}  // namespace sheetloupe::cli
