// The weave of a 9 MP face, whole and by step, beside the floor: decoding and once warping a 12 MP photo.
#include <benchmark/benchmark.h>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/weave.h"
#include "support/flat_scene.h"
#include "weave/fine_turn.h"
#include "weave/normalise.h"
#include "weave/phase.h"
#include "weave/seed.h"
#include "weave/tow_faults.h"

namespace sheetloupe {
namespace {

// 300 x 300 mm at 0.1 mm, twill, two drags.
const RectifiedSheet& face() {
  static const RectifiedSheet sheet = [] {
    SceneSheet s;
    s.width_mm = s.height_mm = 300;
    s.warp_deg = 2;
    s.weft_deg = 92;
    s.warp_pitch_mm = s.weft_pitch_mm = 2.1;
    s.drags = {{{100, 90}, 22, {2, 3}}, {{210, 190}, 28, {-3, 2}}};
    return flat_scene(s);
  }();
  return sheet;
}

void floor_decode_and_one_warp(benchmark::State& state) {
  cv::Mat photo;
  cv::resize(face().bgr, photo, {4000, 3000});
  std::vector<unsigned char> jpeg;
  cv::imencode(".jpg", photo, jpeg, {cv::IMWRITE_JPEG_QUALITY, 92});
  const cv::Matx33d h(0.9, 0.05, 20, -0.04, 0.92, 30, 1e-6, 2e-6, 1);
  cv::Mat warped;
  for (auto _ : state) {
    const cv::Mat decoded = cv::imdecode(jpeg, cv::IMREAD_COLOR);
    cv::warpPerspective(decoded, warped, h, {3000, 3000}, cv::INTER_LINEAR);
  }
}

void weave_of_a_9_mp_face(benchmark::State& state) {
  double coverage = 0;
  for (auto _ : state) coverage = analyse_weave(face()).coverage;
  state.counters["coverage"] = coverage;
}

void normalising(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(weave::normalise(face(), 0.25));
}

weave::Lattice lattice_of(const weave::Normalised& n) {
  const int size = cvRound(32.0 / n.mm_per_px);
  return weave::identify(n.z(cv::Rect(0, 0, size, size)), n.mm_per_px, {}).value();
}

void one_patch(benchmark::State& state) {
  const weave::Normalised n = weave::normalise(face(), 0.25);
  for (auto _ : state) benchmark::DoNotOptimize(lattice_of(n));
}

void tracking_the_seed(benchmark::State& state) {
  const weave::Normalised n = weave::normalise(face(), 0.25);
  const weave::Lattice lattice = lattice_of(n);
  for (auto _ : state) benchmark::DoNotOptimize(weave::track(n, lattice, {64, 64}));
}

void refining_the_phase(benchmark::State& state) {
  const weave::Normalised n = weave::normalise(face(), 0.25);
  const weave::Lattice lattice = lattice_of(n);
  const weave::SeedField seed = weave::track(n, lattice, {64, 64});
  for (auto _ : state) benchmark::DoNotOptimize(weave::refine_phase(n, seed, lattice.weave, 1.0));
}

void direction_of_the_fibres(benchmark::State& state) {
  const weave::Normalised n = weave::normalise(face(), 0.25);
  const weave::Lattice lattice = lattice_of(n);
  const weave::PhaseField field = weave::refine_phase(n, weave::track(n, lattice, {64, 64}), lattice.weave, 1.0);
  for (auto _ : state) benchmark::DoNotOptimize(weave::fine_turn(n, field));
}

void looking_for_missing_tows(benchmark::State& state) {
  const weave::Normalised n = weave::normalise(face(), 0.25);
  const WeaveAnalysis w = analyse_weave(face());
  for (auto _ : state) benchmark::DoNotOptimize(weave::find_tow_faults(n, *w.phase, w.warp_deg));
}

BENCHMARK(floor_decode_and_one_warp)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(weave_of_a_9_mp_face)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(normalising)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(one_patch)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(tracking_the_seed)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(refining_the_phase)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(direction_of_the_fibres)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(looking_for_missing_tows)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();

}  // namespace
}  // namespace sheetloupe
