#include "sheetloupe/io/sheets_page.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sheetloupe/io/atomic_file.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

using testing::HasSubstr;
using testing::Not;

std::string page_in(const TempDir& dir) { return read_file(dir / "sheets.html"); }

TEST(SheetsPage, EmptyFolderSaysWhatASheetIs) {
  const TempDir dir;
  write_sheets_page(dir.path(), {});
  EXPECT_THAT(page_in(dir), HasSubstr("0 sheets"));
  EXPECT_THAT(page_in(dir), HasSubstr("front.jpg"));
}

TEST(SheetsPage, AnInspectedSheetHasGradeShareAndLink) {
  const TempDir dir;
  write_file(dir / "H 001" / "loupe" / "report.json",
             R"({"sheet": {"made": "2026-03-02"}, "grade": {"grade": "B"}, "usable": {"fraction": 0.9867},
                 "faces": [{"role": "front", "status": "measured", "defects": {"items": [{"kind": "pinhole"}]}}]})");
  write_sheets_page(dir.path(), {});
  for (const char* text : {"1 sheet<", "href=\"H%20001/loupe/report.html\"", ">B<", "98.7 %", "1 front", "2 Mar 2026"})
    EXPECT_THAT(page_in(dir), HasSubstr(text)) << text;
}

TEST(SheetsPage, AWaitingSheetTellsWhy) {
  const TempDir dir;
  write_file(dir / "H-002" / "front.jpg", "half");
  write_sheets_page(dir.path(), {{"H-002", "front.jpg: the file ends <early>"}});
  EXPECT_THAT(page_in(dir), HasSubstr("Waits: front.jpg: the file ends &lt;early&gt;"));
  EXPECT_THAT(page_in(dir), Not(HasSubstr("href=\"H-002")));
}

TEST(SheetsPage, ABrokenReportIsToldAsWaitingNotAnEnd) {
  const TempDir dir;
  write_file(dir / "H-003" / "loupe" / "report.json", "{");
  write_sheets_page(dir.path(), {});
  EXPECT_THAT(page_in(dir), HasSubstr("Waits until its photos lie still"));
}

}  // namespace
}  // namespace sheetloupe
