// A generated face as the flat picture that the stages take, with its truth.
#pragma once

#include "sheetloupe/rectify.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {

/// Rendered at `mm_per_px`, camera gamma, a little blur and noise; all of it cloth.
RectifiedSheet flat_scene(const SceneSheet& sheet, const SceneLight& light = {}, double mm_per_px = 0.1);

}  // namespace sheetloupe
