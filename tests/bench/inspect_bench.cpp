// A 12 MP photo of the demo sheet's front, from the file to the drilling plan, beside the floor measured in the same
// run: decoding the JPEG and one perspective warp to the working scale. Every stage is given in milliseconds and in
// floors.
#include <benchmark/benchmark.h>

#include <chrono>
#include <filesystem>
#include <map>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <sstream>

#include "cli/program.h"
#include "cli/support/heap.h"
#include "sheetloupe/inspect.h"
#include "sheetloupe/io/demo.h"
#include "sheetloupe/io/inspection_files.h"
#include "sheetloupe/io/rubric_json.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

// As the program does; for the floors as well.
[[maybe_unused]] const bool kHeapIsSetUp = (cli::set_up_heap(), true);

double ms_since(Clock::time_point start) {
  return std::chrono::duration<double, std::milli>(Clock::now() - start).count();
}

// The demo sheet: front, back and four edges; drawn once.
const fs::path& whole_sheet() {
  static const TempDir folder;
  static const fs::path path = write_demo(folder.path() / "demo");
  return path;
}

// The same with its front photo alone.
const fs::path& sheet() {
  static const TempDir folder;
  static const fs::path path = [] {
    for (const char* file : {"front.jpg", "sheet.json", "orders.json"})
      fs::copy_file(whole_sheet() / file, folder.path() / file);
    return folder.path();
  }();
  return path;
}

double one_floor_ms(const fs::path& photo = sheet() / "front.jpg") {
  const Clock::time_point start = Clock::now();
  const cv::Mat decoded = cv::imread(photo.string());
  const cv::Matx33d h(0.9, 0.05, 20, -0.04, 0.92, 30, 1e-6, 2e-6, 1);
  cv::Mat warped;
  cv::warpPerspective(decoded, warped, h, {3000, 3000}, cv::INTER_LINEAR);
  return ms_since(start);
}

// The best of several, as the least disturbed by the machine.
double floor_ms() {
  static const double best = [] {
    double least = 1e9;
    for (int i = 0; i < 7; ++i) least = std::min(least, one_floor_ms());
    return least;
  }();
  return best;
}

void floor_decode_and_one_warp(benchmark::State& state) {
  sheet();
  for (auto _ : state) benchmark::DoNotOptimize(one_floor_ms());
}

// Milliseconds of every stage of one inspection, by the name that progress gives it.
std::map<std::string, double> stage_times() {
  std::map<std::string, double> times;
  std::string current = "photos in";
  Clock::time_point start = Clock::now();
  const auto next = [&](const std::string& stage) {
    times[current] += ms_since(start);
    current = stage;
    start = Clock::now();
  };
  const SheetFolder folder = read_sheet_folder(sheet());
  const InspectInput input = load_inspect_input(folder);
  const Rubric rubric = read_rubric(kDefaultRubric);
  InspectOptions options = options_for(folder.facts, rubric);
  options.progress = next;
  const Inspection inspection = inspect_sheet(input, options);
  next("files out");
  write_inspection(inspection, input, folder.facts, rubric, sheet() / "loupe");
  next("");
  return times;
}

void inspect_stage_by_stage(benchmark::State& state) {
  sheet();
  std::map<std::string, double> least;
  for (auto _ : state) {
    for (const auto& [stage, ms] : stage_times()) {
      const auto [at, fresh] = least.emplace(stage, ms);
      if (!fresh) at->second = std::min(at->second, ms);
    }
  }
  double sum = 0;
  for (const auto& [stage, ms] : least) {
    state.counters[stage + " (floors)"] = ms / floor_ms();
    sum += ms;
  }
  state.counters["whole (floors)"] = sum / floor_ms();
}

void place_after_inspect(benchmark::State& state) {
  stage_times();
  double least = 1e9;
  for (auto _ : state) {
    std::ostringstream out, err;
    const Clock::time_point start = Clock::now();
    cli::run_program({"place", sheet().string(), "--orders", (sheet() / "orders.json").string()}, {out, err});
    least = std::min(least, ms_since(start));
  }
  state.counters["whole (floors)"] = least / floor_ms();
}

double floor_of_six_photos_ms() {
  double sum = 0;
  for (const char* photo :
       {"front.jpg", "back.jpg", "edge-top.jpg", "edge-right.jpg", "edge-bottom.jpg", "edge-left.jpg"})
    sum += one_floor_ms(whole_sheet() / photo);
  return sum;
}

// Front, back and four edges in one command, beside the floors of the six photos. Both by turns, so that a machine that
// is busy elsewhere for a while slows both; the best of each.
void inspect_the_whole_sheet(benchmark::State& state) {
  double floor = 1e9, least = 1e9;
  for (auto _ : state) {
    state.PauseTiming();
    floor = std::min(floor, floor_of_six_photos_ms());
    state.ResumeTiming();
    std::ostringstream out, err;
    const Clock::time_point start = Clock::now();
    cli::run_program({"inspect", whole_sheet().string()}, {out, err});
    least = std::min(least, ms_since(start));
  }
  state.counters["whole (floors of six photos)"] = least / floor;
}

BENCHMARK(floor_decode_and_one_warp)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(inspect_stage_by_stage)->Unit(benchmark::kMillisecond)->UseRealTime()->MinTime(8);
BENCHMARK(inspect_the_whole_sheet)->Unit(benchmark::kMillisecond)->UseRealTime()->MinTime(8);
BENCHMARK(place_after_inspect)->Unit(benchmark::kMillisecond)->UseRealTime()->MinTime(4);

}  // namespace
}  // namespace sheetloupe
