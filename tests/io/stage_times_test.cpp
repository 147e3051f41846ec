#include "sheetloupe/io/stage_times.h"

#include <gmock/gmock.h>

#include <thread>

#include "sheetloupe/io/strict_json.h"

namespace sheetloupe {
namespace {

void pass_20_ms() { std::this_thread::sleep_for(std::chrono::milliseconds(20)); }

TEST(StageTimes, AWatchThatTimedNothingHasNoParts) {
  const Json times = StageTimes().so_far();
  EXPECT_EQ(times["parts"].size(), 0U);
  EXPECT_EQ(times_in_a_line(times), "0.0 s");
}

TEST(StageTimes, AStageEndsWhenTheNextOfItsThreadBegins) {
  StageTimes watch;
  watch.begin("front: strips");
  pass_20_ms();
  watch.begin("front: weave");
  watch.end();
  pass_20_ms();
  const Json times = watch.so_far();
  ASSERT_EQ(times["parts"].size(), 1U);
  EXPECT_EQ(times["parts"][0]["part"], "front");
  EXPECT_GE(times["parts"][0]["stages"][0]["s"], 0.02);
  EXPECT_LT(times["parts"][0]["stages"][1]["s"], 0.02);
  EXPECT_GE(times["total_s"], 0.04);
}

TEST(StageTimes, ThreadsAreTimedSideBySide) {
  StageTimes watch;
  {
    std::jthread other([&] {
      watch.begin("back: weave");
      pass_20_ms();
      watch.end();
    });
    watch.begin("front: weave");
    pass_20_ms();
  }
  const Json times = watch.so_far();  // the front's stage still runs
  ASSERT_EQ(times["parts"].size(), 2U);
  for (const Json& part : times["parts"]) EXPECT_GE(part["s"], 0.02);
}

TEST(StageTimes, WatchingTellsTheListenerThatWasThere) {
  StageTimes watch;
  std::string heard;
  InspectOptions options;
  options.progress = [&](const std::string& stage) { heard += stage; };
  const InspectOptions watched = watch.watching(options);
  watched.progress("usable map");
  watched.part_done();
  EXPECT_EQ(heard, "usable map");
  EXPECT_EQ(watch.so_far()["parts"][0]["part"], "usable map");
}

TEST(StageTimes, TheLineNamesPartsInTheOrderOfTheirBeginning) {
  const Json times = {{"total_s", 6.12},
                      {"parts", {{{"part", "reading"}, {"s", 0.94}}, {{"part", "front"}, {"s", 4.0}}}}};
  EXPECT_EQ(times_in_a_line(times), "6.1 s: reading 0.9, front 4.0");
}

}  // namespace
}  // namespace sheetloupe
