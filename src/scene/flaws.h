// What went wrong on a face: dry spots, pools and pits laid over the sound cloth.
#pragma once

#include "scene/shading.h"

namespace sheetloupe::scene {

struct Flawed {
  double value;         // linear light without the coat's mirror
  double mirror = 1.0;  // how much of the coat's mirror is left
  DefectLabel label = DefectLabel::sound;
};

Flawed with_flaws(const SceneSheet& sheet, const std::vector<SceneDefect>& defects, const SceneLight& light, double x,
                  double y, const Place& place, const Shade& tone);

}  // namespace sheetloupe::scene
