// Against the middle of the sorted values.
#include "sheetloupe/median.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sheetloupe {
namespace {

float sorted_middle(std::vector<float> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

TEST(Median, OfNothingIsZero) { EXPECT_EQ(median(std::vector<float>{}), 0.F); }

TEST(Median, OfOneIsItself) { EXPECT_EQ(median(std::vector<float>{-2.5F}), -2.5F); }

TEST(Median, OfAnEvenNumberIsTheUpperOfTheTwoMiddleOnes) {
  EXPECT_EQ(median(std::vector<double>{4, 1, 3, 2}), 3);
  EXPECT_EQ(median(std::vector<float>{4, 1, 3, 2}), 3.F);
}

TEST(Median, OfManyEqualValuesIsThatValue) { EXPECT_EQ(median(std::vector<float>(5000, 0.1F)), 0.1F); }

TEST(Median, OfManyFloatsIsTheMiddleOfTheSortedOnes) {
  std::mt19937_64 random(3);
  for (const std::size_t count : {1999U, 2000U, 2001U, 30000U}) {
    for (const float shift : {-1.F, 0.F, 0.3F, 1000.F}) {
      std::vector<float> values(count);
      for (float& v : values) v = std::ldexp(static_cast<float>(random() % 100000) - 50000.F, -15) + shift;
      EXPECT_EQ(median(values), sorted_middle(values)) << count << " values about " << shift;
      for (float& v : values) v = std::abs(v);
      EXPECT_EQ(median(values), sorted_middle(values)) << count << " sizes about " << shift;
    }
  }
}

TEST(Median, InfiniteValuesCountAsTheFarthest) {
  std::vector<float> values(4001, -1.F);
  std::fill(values.begin(), values.begin() + 1500, HUGE_VALF);
  std::fill(values.begin() + 1500, values.begin() + 3000, -HUGE_VALF);
  EXPECT_EQ(median(values), -1.F);
}

}  // namespace
}  // namespace sheetloupe
