// A photo that is drawn and inspected in a fraction of a second.
#pragma once

#include <string>
#include <vector>

#include "sheetloupe/io/demo.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {

/// A sheet of 120 x 100 mm with its strips at four megapixels, as a phone's JPEG. `front`: what is drawn on its face.
inline std::string small_photo(const std::vector<SceneDefect>& front = {}) {
  SceneSheet sheet;
  sheet.width_mm = 120;
  sheet.height_mm = 100;
  sheet.front = front;
  SceneCamera camera;
  camera.size = {2400, 1800};
  camera.over = {60, 50};
  camera.height_mm = 330;
  return phone_jpeg(render_photo(sheet, false, {}, camera).bgr, 26);
}

}  // namespace sheetloupe
