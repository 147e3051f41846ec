// Time of reading one 12 megapixel photo of a cut edge from its pixels, the search for a strip's markers with it,
// beside the decoding of the same photo in the same run, both on one thread: the reading, decoding left out, at most
// three times as long.
#include <benchmark/benchmark.h>

#include <fstream>
#include <iterator>
#include <opencv2/imgcodecs.hpp>

#include "sheetloupe/plies.h"
#include "sheetloupe/scene_edge.h"

namespace sheetloupe {
namespace {

struct File {
  std::vector<unsigned char> jpeg;
  EdgeOptions options;
};

const File& file() {
  static const File made = [] {
    EdgeScene scene;
    scene.size = {4032, 3024};
    scene.plies = 12;
    scene.ply_px = 40;
    scene.pitch_px = 190;
    scene.tilt_deg = 2;
    File f;
    cv::imencode(".jpg", render_edge_photo(scene).bgr, f.jpeg, {cv::IMWRITE_JPEG_QUALITY, 90});
    std::ifstream weights(MODELS "/plies.txt");
    f.options.weights.assign(std::istreambuf_iterator<char>(weights), {});
    return f;
  }();
  return made;
}

void decoding(benchmark::State& state) {
  const std::vector<unsigned char>& jpeg = file().jpeg;  // drawn before the clock starts
  cv::setNumThreads(1);
  for (auto step : state) benchmark::DoNotOptimize(cv::imdecode(jpeg, cv::IMREAD_COLOR).data);
}
BENCHMARK(decoding)->Unit(benchmark::kMillisecond);

void reading(benchmark::State& state) {
  const cv::Mat photo = cv::imdecode(file().jpeg, cv::IMREAD_COLOR);
  cv::setNumThreads(1);
  for (auto step : state) {
    EdgeOptions options = file().options;
    options.markers = find_markers(photo, {.close_up = true}).markers;
    benchmark::DoNotOptimize(read_edge(photo, options).band_px);
  }
}
BENCHMARK(reading)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace sheetloupe
