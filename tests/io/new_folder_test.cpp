#include "sheetloupe/io/new_folder.h"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>
#include <opencv2/imgcodecs.hpp>
#include <set>

#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/sheet_folder.h"
#include "support/refusal.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;
using testing::ElementsAre;
using testing::HasSubstr;

std::vector<std::string> files(const std::vector<PhotoClue>& photos) {
  std::vector<std::string> names;
  for (const RoleProposal& p : propose_roles(photos)) names.push_back(p.from.string() + ">" + p.file);
  return names;
}

TEST(ProposeRoles, NoPhotosGiveNoRoles) { EXPECT_TRUE(propose_roles({}).empty()); }

TEST(ProposeRoles, OnePhotoIsTheFrontAndAGuess) {
  const auto roles = propose_roles({{"IMG_1.HEIC", {}, 20}});
  ASSERT_EQ(roles.size(), 1U);
  EXPECT_EQ(roles[0].file, "front.heic");
  EXPECT_TRUE(roles[0].guessed);
}

TEST(ProposeRoles, NamesTellTheRoleAndAreNoGuess) {
  const std::vector<PhotoClue> photos = {{"Back of H-1.JPG", {}, 0}, {"front.png", {}, 0}, {"EDGE_Left.jpeg", {}, 0}};
  EXPECT_THAT(files(photos),
              ElementsAre("Back of H-1.JPG>back.jpg", "EDGE_Left.jpeg>edge-left.jpeg", "front.png>front.png"));
  for (const RoleProposal& p : propose_roles(photos)) EXPECT_FALSE(p.guessed) << p.file;
}

TEST(ProposeRoles, ANameThatTellsTwoRolesTellsNone) {
  EXPECT_TRUE(propose_roles({{"front and back.jpg", {}, 20}}).at(0).guessed);
}

TEST(ProposeRoles, DatesGiveTheOrderWhereAllHaveThem) {
  EXPECT_THAT(files({{"a.jpg", "2026-03-02T14:09:00", 20}, {"b.jpg", "2026-03-02T14:05:00", 20}}),
              ElementsAre("b.jpg>front.jpg", "a.jpg>back.jpg"));
}

TEST(ProposeRoles, OneMissingDateFallsBackToNamesCountedAsPeopleDo) {
  EXPECT_THAT(files({{"IMG_10.jpg", {}, 20}, {"IMG_9.jpg", "2026-03-02T14:05:00", 20}}),
              ElementsAre("IMG_9.jpg>front.jpg", "IMG_10.jpg>back.jpg"));
}

TEST(ProposeRoles, OfThreeFacesTheLastIsTheBack) {
  EXPECT_THAT(files({{"1.jpg", {}, 20}, {"2.jpg", {}, 18}, {"3.jpg", {}, 20}}),
              ElementsAre("1.jpg>front.jpg", "2.jpg>front-2.jpg", "3.jpg>back.jpg"));
}

TEST(ProposeRoles, CloseUpsWithoutStripsAreEdgesBesideFacesWithStrips) {
  EXPECT_THAT(
      files({{"1.jpg", {}, 20}, {"2.jpg", {}, 0}, {"3.jpg", {}, 1}, {"right edge.jpg", {}, 0}}),
      ElementsAre("right edge.jpg>edge-right.jpg", "1.jpg>front.jpg", "2.jpg>edge-top.jpg", "3.jpg>edge-bottom.jpg"));
}

TEST(ProposeRoles, WithoutStripsAnywhereEveryPhotoIsAFace) {
  EXPECT_THAT(files({{"1.jpg", {}, 0}, {"2.jpg", {}, 0}}), ElementsAre("1.jpg>front.jpg", "2.jpg>back.jpg"));
}

TEST(ProposeRoles, WhatCannotBeLaidIsSaid) {
  EXPECT_THAT(refusal([] {
                propose_roles({{"f.jpg", {}, 20}, {"edge top.jpg", {}, 0}, {"top edge.jpg", {}, 0}});
              }),
              HasSubstr("two photos for one edge"));
  EXPECT_THAT(refusal([] {
                propose_roles({{"0.jpg", {}, 20},
                               {"1.jpg", {}, 0},
                               {"2.jpg", {}, 0},
                               {"3.jpg", {}, 0},
                               {"4.jpg", {}, 0},
                               {"5.jpg", {}, 0}});
              }),
              HasSubstr("more photos without strips"));
  EXPECT_THAT(refusal([] { propose_roles({{"back.jpg", {}, 20}}); }), HasSubstr("no photo of the front"));
}

std::string picture(int grey) {
  std::vector<unsigned char> bytes;
  cv::imencode(".jpg", cv::Mat(80, 120, CV_8UC3, cv::Scalar::all(grey)), bytes);
  return {bytes.begin(), bytes.end()};
}

class NewFolderOnDisk : public testing::Test {
 protected:
  NewFolderOnDisk() {
    write_file(dir_ / "IMG_1.JPG", picture(80));
    write_file(dir_ / "IMG_2.jpg", picture(120));
  }
  std::size_t count(const fs::path& folder) {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
  }
  TempDir dir_;
};

TEST_F(NewFolderOnDisk, CopiesByteForByteAndCanBeReadAsASheet) {
  make_sheet_folder(dir_ / "H-021", {dir_ / "IMG_1.JPG", dir_ / "IMG_2.jpg"});
  EXPECT_EQ(read_file(dir_ / "H-021" / "front.jpg"), picture(80));
  EXPECT_EQ(read_file(dir_ / "IMG_1.JPG"), picture(80));
  const SheetFolder sheet = read_sheet_folder(dir_ / "H-021");
  EXPECT_EQ(sheet.facts.id, "H-021");
  EXPECT_EQ(sheet.front.size(), 1U);
  EXPECT_EQ(sheet.back.size(), 1U);
}

TEST_F(NewFolderOnDisk, TrailingSlashStillNamesTheSheet) {
  make_sheet_folder(dir_.path().string() + "/H-022/", {});
  EXPECT_EQ(nlohmann::json::parse(read_file(dir_ / "H-022" / "sheet.json"))["id"], "H-022");
}

TEST_F(NewFolderOnDisk, NothingIsOverwritten) {
  write_file(dir_ / "H-021" / "sheet.json", "{\"id\": \"mine\"}");
  write_file(dir_ / "H-021" / "Front.PNG", "mine");
  EXPECT_THAT(refusal([&] { make_sheet_folder(dir_ / "H-021", {dir_ / "IMG_1.JPG"}); }), HasSubstr("Front.PNG"));
  EXPECT_EQ(count(dir_ / "H-021"), 2U);
  EXPECT_TRUE(make_sheet_folder(dir_ / "H-021", {}).sheet_json_kept);
  EXPECT_EQ(read_file(dir_ / "H-021" / "sheet.json"), "{\"id\": \"mine\"}");
}

TEST_F(NewFolderOnDisk, OneBadPhotoLeavesNoFolderBehind) {
  write_file(dir_ / "words.jpg", "only words, and more of them");
  write_file(dir_ / "notes.txt", "notes");
  for (const char* bad : {"words.jpg", "notes.txt", "missing.jpg"}) {
    EXPECT_THAT(refusal([&] { make_sheet_folder(dir_ / "H-021", {dir_ / "IMG_1.JPG", dir_ / bad}); }), HasSubstr(bad));
    EXPECT_FALSE(fs::exists(dir_ / "H-021")) << bad;
  }
}

TEST_F(NewFolderOnDisk, AFileInPlaceOfTheFolderIsNamed) {
  EXPECT_THAT(refusal([&] { make_sheet_folder(dir_ / "IMG_2.jpg", {dir_ / "IMG_1.JPG"}); }), HasSubstr("not a folder"));
  EXPECT_EQ(read_file(dir_ / "IMG_2.jpg"), picture(120));
}

// The example without its comments is a sheet.json that the strict reader takes, and it shows every key of it.
TEST(SheetExample, IsAValidSheetWithEveryKey) {
  std::string plain;
  for (std::size_t at = 0; at < sheet_example_text().size();) {
    const std::string text = sheet_example_text();
    const std::size_t end = text.find('\n', at);
    const std::string line = text.substr(at, end - at);
    plain += line.substr(0, line.find("//")) + "\n";
    at = end + 1;
  }
  EXPECT_EQ(parse_sheet_facts(plain, "example", "x").id, "H-014");
  std::set<std::string> keys;
  const auto json = nlohmann::json::parse(plain);
  for (const auto& [key, value] : json.items()) keys.insert(key);
  EXPECT_THAT(keys, testing::UnorderedElementsAre("schema_version", "id", "made", "thickness_mm", "strip_length_mm",
                                                  "strip_bar_mm", "strip_height_mm", "top", "size_mm", "sides_mm",
                                                  "diagonals_mm", "size_u95_mm", "plies_laid", "fabric", "warp",
                                                  "turned", "thickness_at_mm", "edge_from_mm", "recipe"));
}

}  // namespace
}  // namespace sheetloupe
