#include "sheetloupe/ring_sizes.h"

#include <gmock/gmock.h>

#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>
#include <vector>

namespace sheetloupe {
namespace {

double diameter(SizeSystem system, const std::string& size) {
  const auto inner = ring_size(system, size);
  EXPECT_TRUE(inner) << size;
  return inner ? inner->diameter_mm : 0.0;
}

TEST(RingSizes, WhatIsNoSizeIsNone) {
  for (const char* size : {"", " ", "-1", "10.1", "20.25", "ten", "nan", "inf", "10 "})
    EXPECT_FALSE(ring_size(SizeSystem::us, size)) << size;
  for (const char* size : {"", "p", "P 1/4", "1/2", " 1/2", "Z+0", "Z+13", "Z+", "Z+1.5", "Y+1", "Z+-1", "AA", "1"})
    EXPECT_FALSE(ring_size(SizeSystem::uk, size)) << size;
  for (const char* size : {"0", "41", "7.5"}) EXPECT_FALSE(ring_size(SizeSystem::jp, size)) << size;
  for (const char* size : {"29.9", "91", "57mm"}) EXPECT_FALSE(ring_size(SizeSystem::iso, size)) << size;
}

TEST(RingSizes, EndsOfEverySystemAreTaken) {
  EXPECT_NEAR(diameter(SizeSystem::us, "0"), 11.633, 5e-4);
  EXPECT_NEAR(diameter(SizeSystem::us, "20"), 25.4 * 1.098, 1e-9);
  EXPECT_NEAR(diameter(SizeSystem::uk, "A"), 37.5 / std::numbers::pi, 1e-9);
  EXPECT_NEAR(diameter(SizeSystem::uk, "Z+12 1/2"), (37.5 + 1.25 * 37.5) / std::numbers::pi, 1e-9);
  EXPECT_NEAR(diameter(SizeSystem::jp, "1"), 13.0, 1e-9);
  EXPECT_NEAR(diameter(SizeSystem::jp, "40"), 26.0, 1e-9);
  EXPECT_NEAR(diameter(SizeSystem::iso, "30"), 30 / std::numbers::pi, 1e-9);
}

TEST(RingSizes, LettersGoOnBeyondZAndHalvesAreWrittenWithOrWithoutASpace) {
  EXPECT_NEAR(diameter(SizeSystem::uk, "Z+1") - diameter(SizeSystem::uk, "Z"), 1.25 / std::numbers::pi, 1e-9);
  EXPECT_EQ(diameter(SizeSystem::uk, "P1/2"), diameter(SizeSystem::uk, "P 1/2"));
  EXPECT_EQ(diameter(SizeSystem::uk, "Z+1 1/2"), diameter(SizeSystem::uk, "Z+11/2"));
}

struct Row {
  std::vector<std::string> cells;
  double number(std::size_t i) const { return std::stod(cells.at(i)); }
};

// US sizes with inside diameter and circumference, the nearest UK half letter and JP size, and where known the inside
// diameter of a supplier's table. UK, JP: second-hand rules, see the header.
std::vector<Row> published_rows() {
  std::ifstream file(std::string(TEST_DATA) + "/ring_sizes.csv");
  std::vector<Row> rows;
  std::string line;
  std::getline(file, line);
  while (std::getline(file, line)) {
    Row row;
    std::stringstream cells(line);
    for (std::string cell; std::getline(cells, cell, ',');) row.cells.push_back(cell);
    row.cells.resize(9);
    rows.push_back(std::move(row));
  }
  return rows;
}

TEST(RingSizes, EveryPublishedRowIsMet) {
  const auto rows = published_rows();
  ASSERT_EQ(rows.size(), 33U);
  int letters = 0, japanese = 0, supplied = 0;
  for (const Row& row : rows) {
    const std::string& size = row.cells[0];
    const double us = diameter(SizeSystem::us, size);
    EXPECT_NEAR(us, row.number(2), 6e-4) << size;
    EXPECT_NEAR(us, 25.4 * row.number(1), 1e-6) << size;
    EXPECT_NEAR(diameter(SizeSystem::iso, row.cells[3]), us, 0.005 / std::numbers::pi + 1e-4) << size;
    if (!row.cells[4].empty()) {  // nearest half letter: a quarter letter away at most
      EXPECT_NEAR(diameter(SizeSystem::uk, row.cells[4]), us, 1.25 / 4 / std::numbers::pi + 1e-3) << size;
      ++letters;
    }
    if (!row.cells[5].empty()) {  // nearest whole size
      EXPECT_NEAR(diameter(SizeSystem::jp, row.cells[5]), us, 1.0 / 6 + 1e-3) << size;
      ++japanese;
    }
    if (!row.cells[7].empty()) {
      EXPECT_NEAR(us, row.number(7), ring_size(SizeSystem::us, size)->sources_differ_mm + 0.006) << size;
      ++supplied;
    }
  }
  EXPECT_EQ(letters, 32);
  EXPECT_EQ(japanese, 30);
  EXPECT_EQ(supplied, 9);
}

TEST(RingSizes, SizesOnWhichTablesDifferSayByHowMuchAndDefinitionsDoNot) {
  EXPECT_THAT(size_remark(SizeSystem::uk, "P 1/2"),
              testing::AllOf(testing::HasSubstr("UK P 1/2"), testing::HasSubstr("0.20 mm, half a letter")));
  EXPECT_THAT(size_remark(SizeSystem::us, "10"), testing::HasSubstr("0.11 mm"));
  EXPECT_EQ(size_remark(SizeSystem::iso, "57"), "");
  EXPECT_EQ(size_remark(SizeSystem::jp, "14"), "");
}

}  // namespace
}  // namespace sheetloupe
