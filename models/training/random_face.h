// A face drawn at random from its seed, photographed and laid flat again, with its truth: what the nets learn from.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "sheetloupe/rectify.h"
#include "sheetloupe/scene.h"
#include "sheetloupe/weave.h"

namespace sheetloupe::training {

struct Hole {
  SheetPoint at;
  double diameter_mm;
};

struct RandomFace {
  RectifiedSheet sheet;
  WeaveAnalysis weave;  // the true phase, off by as much as a reading is
  cv::Mat1b labels;     // DefectLabel by pixel of the flat picture
  cv::Mat1b cover;      // 255 under pen, tape and glare: no answer asked
  std::vector<Hole> holes;
};

/// Sheet, light and flaws of a seed.
SceneSheet random_sheet(SceneRandom& r, std::vector<Hole>& holes);
SceneLight random_light(SceneRandom& r, const SceneSheet& sheet);

/// Dust, fibres, scratches, prints, pen, tape: drawn into `light`; `level` is the cloth's mean light.
void add_dirt(cv::Mat3f light, SceneRandom& r, double level, cv::Mat1b cover);

/// Exposure, tilt, blur, noise, sharpening and compression of a phone, then the flat picture again.
RectifiedSheet photographed(cv::Mat3f light, SceneRandom& r, double level);

RandomFace random_face(std::uint64_t seed);

inline double log_between(SceneRandom& r, double low, double high) { return low * std::pow(high / low, r.uniform()); }

}  // namespace sheetloupe::training
