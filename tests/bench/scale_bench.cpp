// Markers, fit and map, beside the floor of any measuring photo program: one perspective warp of the 12 MP picture.
#include <benchmark/benchmark.h>

#include <opencv2/imgproc.hpp>

#include "sheetloupe/markers.h"
#include "sheetloupe/scale.h"
#include "support/synthetic_strips.h"

namespace sheetloupe {
namespace {

// A grey table with the scene's twenty markers on white strips, 12 MP.
cv::Mat picture_of(const ScaleInput& input) {
  cv::Mat picture(input.image_size, CV_8UC3, cv::Scalar(110, 110, 110));
  for (const Marker& marker : input.markers) {
    cv::Mat paper(60, 60, CV_8UC1, cv::Scalar(230)), big, warped, mask;
    cv::resize(marker_bits(marker.id), big, {36, 36}, 0, 0, cv::INTER_NEAREST);
    big.copyTo(paper(cv::Rect(12, 12, 36, 36)));
    std::array<cv::Point2f, 4> from = {{{11.5, 11.5}, {47.5, 11.5}, {47.5, 47.5}, {11.5, 47.5}}}, to;
    for (int i = 0; i < 4; ++i) {
      to[i] = cv::Point2f(static_cast<float>(marker.corners[i].x), static_cast<float>(marker.corners[i].y));
    }
    const cv::Mat h = cv::getPerspectiveTransform(from.data(), to.data());
    cv::warpPerspective(paper, warped, h, picture.size(), cv::INTER_LINEAR);
    cv::warpPerspective(cv::Mat(60, 60, CV_8UC1, cv::Scalar(255)), mask, h, picture.size(), cv::INTER_NEAREST);
    cv::cvtColor(warped, warped, cv::COLOR_GRAY2BGR);
    warped.copyTo(picture, mask);
  }
  cv::GaussianBlur(picture, picture, {0, 0}, 0.8);
  return picture;
}

ScaleInput input_of_scene() {
  Dice dice(1);
  ScaleInput input = unkind_scene(dice, 240, 180).input(dice);
  input.standards.strip_length_mm = Measured{250.0, 0.3};
  return input;
}

const cv::Mat& shared_picture() {
  static const cv::Mat picture = picture_of(input_of_scene());
  return picture;
}

void floor_one_warp(benchmark::State& state) {
  const cv::Mat& picture = shared_picture();
  const cv::Matx33d h(0.9, 0.05, 20, -0.04, 0.92, 30, 1e-6, 2e-6, 1);
  cv::Mat warped;
  for (auto _ : state) cv::warpPerspective(picture, warped, h, picture.size(), cv::INTER_LINEAR);
}

void markers_of_a_12_mp_photo(benchmark::State& state) {
  std::size_t found = 0;
  for (auto _ : state) found = find_markers(shared_picture()).markers.size();
  state.counters["found"] = static_cast<double>(found);
}

void fit_of_the_table_alone(benchmark::State& state) {
  ScaleInput input = input_of_scene();
  input.corners_px.reset();
  for (auto _ : state) benchmark::DoNotOptimize(fit_scale(input));
}

void fit_with_corners_and_figure(benchmark::State& state) {
  const ScaleInput input = input_of_scene();
  for (auto _ : state) benchmark::DoNotOptimize(fit_scale(input));
}

void one_point_through_the_map(benchmark::State& state) {
  const Scale scale = fit_scale(input_of_scene());
  const bool forward = state.range(0) == 0;
  double x = 0;
  for (auto _ : state) {
    x = x > 200 ? 0 : x + 1;
    if (forward) {
      benchmark::DoNotOptimize(scale.map->image_from_sheet({x, 90}));
    } else {
      benchmark::DoNotOptimize(scale.map->sheet_from_image({1000 + x, 1500}));
    }
  }
}

BENCHMARK(floor_one_warp)->Unit(benchmark::kMillisecond);
BENCHMARK(markers_of_a_12_mp_photo)->Unit(benchmark::kMillisecond);
BENCHMARK(fit_of_the_table_alone)->Unit(benchmark::kMillisecond);
BENCHMARK(fit_with_corners_and_figure)->Unit(benchmark::kMillisecond);
BENCHMARK(one_point_through_the_map)->ArgName("from_image")->Arg(0)->Arg(1);

}  // namespace
}  // namespace sheetloupe
