// The woven face laid out in maps: cloth, shading, flaws, coat, label by label.
#include <opencv2/core.hpp>

#include "scene/flaws.h"
#include "scene/noise.h"
#include "scene/shading.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {
namespace {

using scene::noise2;

// Turned left to right an axis of angle a reads 180 - a, and it is another layer of cloth.
SceneSheet turned_over(const SceneSheet& sheet) {
  SceneSheet own = sheet;
  own.warp_deg = 180 - sheet.warp_deg;
  own.weft_deg = 180 - sheet.weft_deg;
  own.seed = sheet.seed + 1000;
  for (SceneDrag& drag : own.drags) {
    drag.at.x = sheet.width_mm - drag.at.x;
    drag.by.x = -drag.by.x;
  }
  return own;
}

}  // namespace

SceneFace render_face(const SceneSheet& sheet, bool back, const SceneLight& light, double mm_per_px) {
  const cv::Size size(cvRound(sheet.width_mm / mm_per_px), cvRound(sheet.height_mm / mm_per_px));
  SceneFace face{cv::Mat(size, CV_32FC3), cv::Mat(size, CV_8UC1, cv::Scalar(0)), cv::Mat(size, CV_32F),
                 cv::Mat(size, CV_32F)};
  const SceneSheet own = back ? turned_over(sheet) : sheet;
  const scene::Cloth cloth(own);
  const auto& defects = back ? sheet.back : sheet.front;
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      for (int c = 0; c < size.width; ++c) {
        const double x = (c + 0.5) * mm_per_px, y = (r + 0.5) * mm_per_px;
        const scene::Place place = cloth.at(x, y);
        face.warp_count.at<float>(r, c) = static_cast<float>(place.s);
        face.weft_count.at<float>(r, c) = static_cast<float>(place.t);
        const scene::Shade tone = scene::shade(own, place, x, y, light, scene::view_at(own, light, x, y));
        const scene::Flawed flawed = scene::with_flaws(own, defects, light, x, y, place, tone);
        face.labels.at<unsigned char>(r, c) = static_cast<unsigned char>(flawed.label);
        // The clear coat mirrors the room.
        const double room = light.room * (0.006 + 0.004 * noise2(x / 70, y / 70, sheet.seed + 9));
        const auto v = static_cast<float>(flawed.value + flawed.mirror * (room + tone.coat));
        face.light.at<cv::Vec3f>(r, c) = {v * 1.03F, v, v * 0.98F};
      }
    }
  });
  return face;
}

}  // namespace sheetloupe
