// Time of the defect stage on a face of 120 x 100 mm (1.2 megapixels), beside the floor: five Gaussians of the pinhole
// sizes and one look at every pixel's logarithm.
#include <benchmark/benchmark.h>

#include <opencv2/imgproc.hpp>

#include "sheetloupe/defects.h"
#include "support/flat_scene.h"
#include "support/shipped_net.h"

namespace sheetloupe {
namespace {

struct Face {
  RectifiedSheet sheet;
  WeaveAnalysis weave;
  DefectOptions trained;
};

const Face& face() {
  static const Face made = [] {
    SceneSheet scene;
    scene.width_mm = 120;
    scene.height_mm = 100;
    scene.front = {{DefectLabel::dry_spot, {50, 40}, 6, 1, 3}, {DefectLabel::pinhole, {70, 55}, 0.5, 1, 1}};
    Face f;
    f.sheet = flat_scene(scene);
    f.weave = analyse_weave(f.sheet);
    f.trained.pinhole_net = shipped_net("pinholes.onnx");
    return f;
  }();
  return made;
}

void floor_of_the_stage(benchmark::State& state) {
  for (auto step : state) {
    cv::Mat grey, light, soft;
    cv::cvtColor(face().sheet.bgr, grey, cv::COLOR_BGR2GRAY);
    grey.convertTo(light, CV_32F, 1, 8);
    cv::log(light, light);
    for (int sizes = 0; sizes < 5; ++sizes) cv::GaussianBlur(light, soft, {}, 4.0);
    benchmark::DoNotOptimize(soft.data);
  }
}
BENCHMARK(floor_of_the_stage)->Unit(benchmark::kMillisecond);

void plain_decision(benchmark::State& state) {
  for (auto step : state) benchmark::DoNotOptimize(find_defects({face().sheet}, face().weave, "F").items.size());
}
BENCHMARK(plain_decision)->Unit(benchmark::kMillisecond);

void trained_decision(benchmark::State& state) {
  for (auto step : state)
    benchmark::DoNotOptimize(find_defects({face().sheet}, face().weave, "F", face().trained).items.size());
}
BENCHMARK(trained_decision)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace sheetloupe
