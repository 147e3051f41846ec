// A cut edge of a whole drawn sheet, as a close-up before a white card.
#include "sheetloupe/scene.h"
#include "sheetloupe/scene_edge.h"

namespace sheetloupe {

cv::Mat render_edge(const SceneSheet& sheet, double length_mm, double px_per_mm, std::uint64_t seed) {
  SceneRandom random(seed);
  EdgeScene scene;
  scene.size = {cvRound(length_mm * px_per_mm), cvRound(2.2 * sheet.thickness_mm * px_per_mm)};
  scene.plies = sheet.plies;
  scene.ply_px = sheet.thickness_mm / sheet.plies * px_per_mm;
  scene.pitch_px = sheet.weft_pitch_mm * px_per_mm;
  scene.weave = sheet.pattern;
  scene.waviness = 0.07;
  scene.taper = random.between(-0.02, 0.02);
  scene.tilt_deg = random.between(-1.0, 1.0);
  scene.seed = seed;
  return render_edge_photo(scene).bgr;
}

}  // namespace sheetloupe
