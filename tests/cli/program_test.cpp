#include "cli/program.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "sheetloupe/io/atomic_file.h"
#include "support/run_words.h"
#include "support/small_photo.h"
#include "support/temp_dir.h"

namespace sheetloupe::cli {
namespace {

// A small sheet, photographed at four megapixels, in its own folder.
std::filesystem::path small_sheet(const TempDir& dir, const std::string& facts) {
  write_file(dir / "H-007" / "front.jpg", small_photo({{DefectLabel::dry_spot, {60, 50}, 6, 1, 3}}));
  write_file(dir / "H-007" / "sheet.json", facts);
  return dir / "H-007";
}

TEST(Program, NoCommandExplainsItself) {
  const Outcome o = run({});
  EXPECT_EQ(o.status, kDone);
  EXPECT_NE(o.out.find("inspect"), std::string::npos);
}

TEST(Program, AnUnknownCommandIsAnsweredWithTheOneThatWasMeant) {
  const Outcome o = run({"inspct", "H-014"});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_NE(o.err.find("no command \"inspct\"; perhaps \"inspect\""), std::string::npos) << o.err;
}

TEST(Program, AnUnknownCommandOfTheLogIsAnsweredTheSameWay) {
  const Outcome o = run({"log", "ad", "H-014"});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_EQ(o.err, "sheetloupe log: no command \"ad\"; perhaps \"add\". All commands: sheetloupe log --help\n");
}

TEST(Program, AnIncompleteCommandIsAnsweredWithItsExample) {
  for (const char* command : {"inspect", "watch", "new", "demo"}) {
    const Outcome o = run({command});
    EXPECT_EQ(o.status, kBadInput) << command;
    EXPECT_NE(o.err.find(std::string("sheetloupe ") + command + ": "), std::string::npos) << o.err;
    EXPECT_NE(o.err.find("Example: sheetloupe "), std::string::npos) << o.err;
  }
  const Outcome o = run({"inspect", "H-014", "--rubrik", "x"});
  EXPECT_NE(o.err.find("--rubrik"), std::string::npos) << o.err;
}

TEST(Program, EveryCommandHasHelpWithAnExample) {
  for (const char* command : {"strips", "new", "inspect", "place", "watch", "demo"}) {
    const Outcome o = run({command, "--help"});
    EXPECT_EQ(o.status, kDone) << command;
    EXPECT_NE(o.out.find("Example"), std::string::npos) << command;
  }
}

TEST(Program, StripsAreWrittenWhereToldByAnyOfItsNames) {
  for (const char* name : {"-o", "--out", "--output"}) {
    const TempDir dir;
    EXPECT_EQ(run({"strips", name, (dir / "strips.pdf").string()}).status, kDone) << name;
    EXPECT_EQ(read_file(dir / "strips.pdf").rfind("%PDF", 0), 0U) << name;
  }
}

TEST(Program, MissingFolderIsOneClearMessage) {
  const Outcome o = run({"inspect", "/nowhere/H-001"});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_NE(o.err.find("/nowhere/H-001"), std::string::npos);
  EXPECT_EQ(std::count(o.err.begin(), o.err.end(), '\n'), 1);
}

TEST(Program, FolderWithoutFrontPhotoIsRefused) {
  const TempDir dir;
  EXPECT_EQ(run({"inspect", dir.path().string()}).status, kBadInput);
}

TEST(Program, TwoFilesForOneRoleAreRefused) {
  const TempDir dir;
  write_file(dir / "front.jpg", "x");
  write_file(dir / "Front.PNG", "x");
  const Outcome o = run({"inspect", dir.path().string()});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_NE(o.err.find("two files"), std::string::npos) << o.err;
}

TEST(Program, ASheetIsMeasuredToItsTruthAndPlanned) {
  const TempDir dir;
  const auto folder = small_sheet(dir, R"({"thickness_mm": 6.1, "strip_length_mm": 250.0})");
  const Outcome o = run({"inspect", folder.string()});
  EXPECT_EQ(o.status, kDone) << o.err << o.out;
  const auto report = nlohmann::json::parse(read_file(folder / "loupe" / "report.json"));
  const auto& front = report["faces"][0];
  EXPECT_EQ(front["status"], "measured");
  // Inside the stated figure: the sides are 120 and 100 mm.
  EXPECT_NEAR(front["outline"]["width_mm"], 120.0, front["outline"]["side_u95_mm"]);
  EXPECT_NEAR(front["outline"]["height_mm"], 100.0, front["outline"]["side_u95_mm"]);
  EXPECT_EQ(front["scale"]["grid"]["sheet_mm"].size(), 121U);
  EXPECT_EQ(front["weave"]["pattern"], "twill-2x2");
  EXPECT_GE(front["defects"]["items"].size(), 1U);
  EXPECT_TRUE(std::filesystem::exists(folder / "loupe" / "report.html"));
  write_file(
      folder / "orders.json",
      R"({"schema_version":1,"rings":[{"iso_size":57,"wall_mm":2.2,"width_mm":5,"count":"fill"}],"saws":[{"outer_mm":27,"kerf_mm":1.5}],"web_mm":2,"edge_margin_mm":3})");
  const Outcome placed = run({"place", folder.string(), "--orders", (folder / "orders.json").string(), "--json"});
  EXPECT_EQ(placed.status, kDone) << placed.err;
  const auto blanks = nlohmann::json::parse(placed.out);
  EXPECT_GE(blanks["blanks"].size(), 4U);
  for (const char* file : {"blanks.json", "blanks.csv", "drill-template.pdf", "drill-template.svg"}) {
    EXPECT_TRUE(std::filesystem::exists(folder / "loupe" / file)) << file;
  }
  // The same photo gives the same bytes; how long it took is told elsewhere.
  run({"inspect", folder.string()});
  const std::string first = read_file(folder / "loupe" / "report.json");
  const auto times = nlohmann::json::parse(read_file(folder / "loupe" / "times.json"));
  EXPECT_GT(times["total_s"], 0.0);
  EXPECT_EQ(times["parts"][1]["part"], "front");
  run({"inspect", folder.string()});
  EXPECT_EQ(read_file(folder / "loupe" / "report.json"), first);
}

TEST(Program, PlaceWithoutAMapSaysWhatToRunFirst) {
  const TempDir dir;
  write_file(dir / "orders.json", "{}");
  const Outcome o = run({"place", dir.path().string(), "--orders", (dir / "orders.json").string()});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_NE(o.err.find("sheetloupe inspect"), std::string::npos);
}

TEST(Program, BadPinIsNamed) {
  const TempDir dir;
  write_file(dir / "map.geojson", R"({"type":"FeatureCollection","features":[]})");
  write_file(
      dir / "orders.json",
      R"({"rings":[{"iso_size":57,"wall_mm":2,"width_mm":5,"count":1}],"saws":[{"outer_mm":27,"kerf_mm":1.5}]})");
  const Outcome o =
      run({"place", (dir / "map.geojson").string(), "--orders", (dir / "orders.json").string(), "--pin", "12;4"});
  EXPECT_EQ(o.status, kBadInput);
  EXPECT_NE(o.err.find("--pin"), std::string::npos);
}

}  // namespace
}  // namespace sheetloupe::cli
