// A generated face as the flat picture that the stages take, with its truth.
#pragma once

#include "sheetloupe/rectify.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {

/// Rendered at `mm_per_px`, camera gamma, a little blur and noise; all of it cloth.
RectifiedSheet flat_scene(const SceneSheet& sheet, const SceneLight& light = {}, double mm_per_px = 0.1);

/// 120 x 100 mm of sound cloth.
SceneSheet small_sheet();

struct Span {
  double low, high;
};

/// Cloth dragged aside at some place, in some direction: the tows turn by `turn_deg` where they turn most.
SceneDrag random_drag(SceneRandom& random, Span radius_mm, Span turn_deg, Span x_mm, Span y_mm);

/// From any side, 0.5 to 1.2 rad above the table.
SceneLight random_lamp(SceneRandom& random);

}  // namespace sheetloupe
