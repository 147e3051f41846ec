// Outline and laying flat on a drawn 12 MP photo, beside the floor: one perspective warp of the same photo to the
// working scale.
#include <benchmark/benchmark.h>

#include <opencv2/imgproc.hpp>

#include "sheetloupe/outline.h"
#include "sheetloupe/rectify.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {
namespace {

struct Measured12Mp {
  Photo photo;
  std::vector<Marker> markers;
  Scale table, scale;
  Outline outline;
};

// 4000 x 3000 px of the default 240 x 180 mm sheet on its wooden table.
const Measured12Mp& measured() {
  static const Measured12Mp shared = [] {
    Measured12Mp m;
    SceneSheet sheet;
    SceneCamera camera;
    camera.size = {4000, 3000};
    m.photo.bgr = render_photo(sheet, false, {}, camera).bgr;
    m.markers = find_markers(m.photo.bgr).markers;
    ScaleInput input;
    input.markers = m.markers;
    input.image_size = m.photo.bgr.size();
    input.focal_35mm_mm = camera.focal_35mm_mm;
    input.standards.thickness_mm = Measured{sheet.thickness_mm, 0.1};
    input.standards.strip_length_mm = Measured{250.0, 0.3};
    m.table = fit_scale(input);
    m.outline = find_outline(m.photo.bgr, m.markers, m.table.map.get(), Mm(sheet.thickness_mm));
    input.corners_px = m.outline.corners_px;
    m.scale = fit_scale(input);
    return m;
  }();
  return shared;
}

void floor_one_warp(benchmark::State& state) {
  const cv::Matx33d h(0.7, 0.05, 20, -0.04, 0.72, 30, 1e-6, 2e-6, 1);
  const cv::Mat& photo = measured().photo.bgr;
  cv::Mat warped;
  for (auto _ : state) cv::warpPerspective(photo, warped, h, {2400, 1800}, cv::INTER_LINEAR);
}

void outline_with_strips(benchmark::State& state) {
  const Measured12Mp& m = measured();
  bool found = false;
  for (auto _ : state) found = find_outline(m.photo.bgr, m.markers, m.table.map.get(), Mm(6.1)).found;
  state.counters["found"] = found;
}

void outline_without_strips(benchmark::State& state) {
  const Measured12Mp& m = measured();
  for (auto _ : state) benchmark::DoNotOptimize(find_outline(m.photo.bgr, {}, nullptr, Mm(6.1)));
}

void laying_flat(benchmark::State& state) {
  const Measured12Mp& m = measured();
  for (auto _ : state) benchmark::DoNotOptimize(rectify(m.photo, *m.scale.map, m.outline));
}

BENCHMARK(floor_one_warp)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(outline_with_strips)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(outline_without_strips)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(laying_flat)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace sheetloupe
