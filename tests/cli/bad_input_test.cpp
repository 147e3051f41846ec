// Whole commands on what can go wrong with folders and files: one message, the right status, nothing half-written.
#include <gtest/gtest.h>

#include <filesystem>
#include <functional>
#include <opencv2/imgcodecs.hpp>
#include <sstream>

#include "cli/program.h"
#include "sheetloupe/io/atomic_file.h"
#include "support/temp_dir.h"

namespace sheetloupe::cli {
namespace {

namespace fs = std::filesystem;

std::string picture(const char* ending, int width, int height) {
  std::vector<unsigned char> bytes;
  cv::imencode(ending, cv::Mat(height, width, CV_8UC3, cv::Scalar(90, 90, 90)), bytes);
  return {bytes.begin(), bytes.end()};
}

struct Knock {
  const char* name;
  std::function<void(const fs::path& folder)> prepare;  // in a folder that holds a plain grey front.jpg
  const char* says;                                     // in the message
};

void PrintTo(const Knock& knock, std::ostream* out) { *out << knock.says; }

class BadSheetFolder : public testing::TestWithParam<Knock> {};

TEST_P(BadSheetFolder, GivesOneMessageAndWritesNothing) {
  const TempDir dir;
  const fs::path folder = dir / "H-003";
  write_file(folder / "front.jpg", picture(".jpg", 400, 300));
  GetParam().prepare(folder);
  std::ostringstream out, err;
  EXPECT_EQ(run_program({"inspect", folder.string()}, {out, err}), kBadInput);
  EXPECT_EQ(std::count(err.view().begin(), err.view().end(), '\n'), 1) << err.str();
  EXPECT_NE(err.str().find(GetParam().says), std::string::npos) << err.str();
  EXPECT_EQ(out.str(), "");
  EXPECT_FALSE(fs::exists(folder / "loupe" / "report.json"));
}

void facts(const fs::path& folder, const std::string& text) { write_file(folder / "sheet.json", text); }

INSTANTIATE_TEST_SUITE_P(
    All, BadSheetFolder,
    testing::Values(
        Knock{"EmptyPhoto", [](const fs::path& f) { write_file(f / "front.jpg", ""); }, "front.jpg"},
        Knock{"WordsForAPhoto", [](const fs::path& f) { write_file(f / "front.jpg", "only words"); }, "not a picture"},
        Knock{"HalfAPhoto",
              [](const fs::path& f) {
                const std::string whole = read_file(f / "front.jpg");
                write_file(f / "front.jpg", whole.substr(0, whole.size() / 2));
              },
              "cut off"},
        Knock{"OnePixel", [](const fs::path& f) { write_file(f / "front.jpg", picture(".jpg", 1, 1)); }, "too small"},
        Knock{"FolderForAPhoto",
              [](const fs::path& f) {
                fs::remove(f / "front.jpg");
                fs::create_directory(f / "front.jpg");
              },
              "front.jpg"},
        Knock{"LinkInACircle",
              [](const fs::path& f) {
                fs::remove(f / "front.jpg");
                fs::create_symlink("front.jpg", f / "front.jpg");
              },
              "front.jpg"},
        Knock{"TwoFronts", [](const fs::path& f) { write_file(f / "FRONT.PNG", picture(".png", 40, 30)); },
              "two files for one role"},
        Knock{"NoFrontButANearName", [](const fs::path& f) { fs::rename(f / "front.jpg", f / "front1.jpg"); },
              "there is front1.jpg"},
        Knock{"BadBackBesideAGoodFront", [](const fs::path& f) { write_file(f / "back.jpg", "words"); }, "back.jpg"},
        Knock{"BadEdge", [](const fs::path& f) { write_file(f / "edge-top.png", "words"); }, "edge-top.png"},
        Knock{"UnknownKey", [](const fs::path& f) { facts(f, R"({"thicknes_mm": 6})"); }, "thickness_mm"},
        Knock{"TextForANumber", [](const fs::path& f) { facts(f, R"({"thickness_mm": "6 mm"})"); }, "thickness_mm"},
        Knock{"NegativeThickness", [](const fs::path& f) { facts(f, R"({"thickness_mm": -6})"); }, "thickness_mm"},
        Knock{"ThicknessInMicrometres", [](const fs::path& f) { facts(f, R"({"thickness_mm": 6100})"); },
              "thickness_mm"},
        Knock{"TooLargeForAnyNumber", [](const fs::path& f) { facts(f, R"({"thickness_mm": 1e999})"); }, "sheet.json"},
        Knock{"HugeNumber", [](const fs::path& f) { facts(f, R"({"plies_laid": 1e308})"); }, "plies_laid"},
        Knock{"NotANumber", [](const fs::path& f) { facts(f, R"({"thickness_mm": NaN})"); }, "valid JSON"},
        Knock{"KeyTwice", [](const fs::path& f) { facts(f, R"({"id": "a", "id": "b"})"); }, "given twice"},
        Knock{"TenThousandBrackets", [](const fs::path& f) { facts(f, std::string(10000, '[')); }, "nested"},
        Knock{"SheetFileIsAFolder", [](const fs::path& f) { fs::create_directory(f / "sheet.json"); }, "sheet.json"},
        Knock{"NewerSchema", [](const fs::path& f) { facts(f, R"({"schema_version": 2})"); }, "schema_version"},
        Knock{"FileForTheOutputFolder", [](const fs::path& f) { write_file(f / "loupe", "x"); }, "loupe"}),
    [](const auto& knock) { return knock.param.name; });

TEST(BadOutput, FolderThatCannotBeMadeIsNamed) {
  const TempDir dir;
  write_file(dir / "H-003" / "front.jpg", picture(".jpg", 400, 300));
  std::ostringstream out, err;
  EXPECT_EQ(run_program({"inspect", (dir / "H-003").string(), "--out", "/dev/null/loupe"}, {out, err}), kBadInput);
  EXPECT_NE(err.str().find("/dev/null/loupe"), std::string::npos) << err.str();
}

// A photo without sheet or strips is no mistake of the input: the answer is that nothing can be measured.
TEST(OddFolder, NamesWithSpacesQuotesNewlinesAndOtherLettersWorkAndAGreyPhotoIsNotMeasured) {
  const TempDir dir;
  const fs::path folder = dir / "H 004 \"blå\"\n'x'";
  write_file(folder / "front.jpg", picture(".jpg", 400, 300));
  write_file(folder / "front1.jpg", picture(".jpg", 400, 300));
  std::ostringstream out, err;
  EXPECT_EQ(run_program({"inspect", folder.string()}, {out, err}), kPartlyAnswered) << err.str();
  EXPECT_NE(out.str().find("not measured"), std::string::npos) << out.str();
  EXPECT_NE(err.str().find("front1.jpg was left out"), std::string::npos) << err.str();
  EXPECT_TRUE(fs::exists(folder / "loupe" / "report.json"));
}

TEST(AtomicFiles, NothingIsPutInPlaceWhenOneOfThemCannotBeWritten) {
  const TempDir dir;
  write_file(dir / "a.txt", "old");
  EXPECT_ANY_THROW(write_files({{dir / "a.txt", "new"}, {dir / "a.txt" / "b.txt", "new"}}));
  EXPECT_EQ(read_file(dir / "a.txt"), "old");
  write_files({{dir / "a.txt", "new"}, {dir / "deep" / "b.txt", "b"}});
  EXPECT_EQ(read_file(dir / "a.txt") + read_file(dir / "deep" / "b.txt"), "newb");
  EXPECT_EQ(std::distance(fs::directory_iterator(dir.path()), {}), 2) << "a draft was left behind";
}

}  // namespace
}  // namespace sheetloupe::cli
