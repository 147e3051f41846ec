#include "io/report/json_figures.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/demo.h"

namespace sheetloupe {
namespace {

constexpr int kFocal35Mm = 26;

SceneCamera demo_camera(bool back) {
  SceneCamera camera;
  camera.size = {4032, 3024};
  camera.focal_35mm_mm = kFocal35Mm;
  camera.height_mm = back ? 345 : 335;
  camera.tilt_deg = back ? 6 : 9;
  camera.tilt_toward_deg = back ? 200 : 50;
  camera.roll_deg = back ? -4 : 3;
  camera.k1 = 0.012;
  return camera;
}

Json defects_json(const std::vector<SceneDefect>& defects) {
  Json list = Json::array();
  for (const SceneDefect& d : defects) {
    list.push_back(
        {{"kind", name_of(d.kind)}, {"at_mm", point_json(d.at)}, {"radius_mm", d.radius_mm}, {"strength", d.strength}});
  }
  return list;
}

Json truth_json(const SceneSheet& s, const std::array<ImagePoint, 4>& corners) {
  return {{"made_by", "sheetloupe's own scene generator; everything here is invented"},
          {"width_mm", s.width_mm},
          {"height_mm", s.height_mm},
          {"thickness_mm", s.thickness_mm},
          {"warp_deg", s.warp_deg},
          {"weft_deg", s.weft_deg},
          {"warp_pitch_mm", s.warp_pitch_mm},
          {"weft_pitch_mm", s.weft_pitch_mm},
          {"plies", s.plies},
          {"front_corners_px", points_json(corners)},
          {"front", defects_json(s.front)},
          {"back", defects_json(s.back)}};
}

constexpr const char* kSheetJson = R"({
  "schema_version": 1, "id": "H-001", "made": "2026-03-02",
  "thickness_mm": 6.1, "strip_length_mm": 250.0, "top": "strip-0",
  "plies_laid": 12, "fabric": "twill-2x2-6k-343",
  "recipe": {"resin_g": 310, "cure_h": 24, "clamps": 8, "mould": "coated board", "note": "Harrow Lane, first sheet"}
}
)";

constexpr const char* kOrdersJson = R"({
  "schema_version": 1,
  "rings": [ {"name": "Lane band", "us_size": 10, "wall_mm": 2.2, "width_mm": 5.0, "count": 8, "priority": 1},
             {"name": "Fine band", "us_size": 6, "wall_mm": 2.0, "width_mm": 5.0, "count": 6, "priority": 2},
             {"name": "stock", "iso_size": 57, "wall_mm": 2.2, "width_mm": 5.0, "count": "fill", "value": 1.0} ],
  "saws":  [ {"name": "30", "outer_mm": 30.0, "kerf_mm": 1.5}, {"name": "27", "outer_mm": 27.0, "kerf_mm": 1.5} ],
  "web_mm": 2.0, "edge_margin_mm": 3.0, "turning_allowance_mm": 0.4, "face_allowance_mm": 0.2, "drill_wander_mm": 0.2, "template_mm": 0.3
}
)";

}  // namespace

SceneSheet demo_sheet() {
  SceneSheet sheet;
  sheet.drags = {{{168, 62}, 20, {2.6, -1.2}}, {{60, 130}, 26, {-0.8, 0.5}}};
  sheet.front = {
      {DefectLabel::dry_spot, {64, 58}, 6.5, 1.0, 3},      {DefectLabel::dry_spot, {205, 138}, 4.5, 0.9, 4},
      {DefectLabel::resin_rich, {118, 148}, 6.0, 0.95, 5}, {DefectLabel::pinhole, {31, 40}, 0.5, 1.0, 1},
      {DefectLabel::pinhole, {100, 92}, 0.4, 1.0, 1},      {DefectLabel::pinhole, {147, 121}, 0.45, 0.95, 1},
      {DefectLabel::pinhole, {214, 30}, 0.6, 1.0, 1},      {DefectLabel::pinhole, {88, 22}, 0.35, 0.95, 1, true}};
  sheet.back = {{DefectLabel::dry_spot, {150, 45}, 5.0, 1.0, 8},
                {DefectLabel::pinhole, {60, 100}, 0.5, 1.0, 1},
                {DefectLabel::pinhole, {190, 150}, 0.45, 1.0, 1}};
  sheet.seed = 20260302;
  return sheet;
}

std::filesystem::path write_demo(const std::filesystem::path& folder,
                                 const std::function<void(const std::string&)>& progress) {
  std::filesystem::path out = folder / "H-001";
  const auto tell = [&](const std::string& what) {
    if (progress) progress("drawing " + what);
  };
  const SceneSheet sheet = demo_sheet();
  tell("front.jpg");
  const ScenePhoto front = render_photo(sheet, false, {}, demo_camera(false));
  write_file(out / "front.jpg", phone_jpeg(front.bgr, kFocal35Mm));
  tell("back.jpg");
  SceneLight light;
  light.direction = {0.35, -0.45, 0.82};
  write_file(out / "back.jpg", phone_jpeg(render_photo(sheet, true, light, demo_camera(true)).bgr, kFocal35Mm));
  std::uint64_t seed = 41;
  for (const char* side : {"top", "right", "bottom", "left"}) {
    tell(std::string("edge-") + side + ".jpg");
    write_file(out / (std::string("edge-") + side + ".jpg"),
               phone_jpeg(render_edge(sheet, 60, 55, seed++), kFocal35Mm));
  }
  write_file(out / "sheet.json", kSheetJson);
  write_file(out / "orders.json", kOrdersJson);
  write_file(out / "truth.json", truth_json(sheet, front.corners_px).dump(1) + "\n");
  return out;
}

}  // namespace sheetloupe
