// large_sheet DIR: a drawn sheet of 300 x 300 mm with many finds, as a folder with photos of both faces, four edges and
// orders that fill it: the size for which the page's weight and quickness are measured.
#include <array>
#include <cstdio>
#include <filesystem>
#include <string>

#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/demo.h"
#include "sheetloupe/scene.h"

namespace {

using namespace sheetloupe;

constexpr double kSideMm = 300.0;
constexpr int kFocal35Mm = 26;

constexpr const char* kSheetJson =
    R"({"schema_version": 1, "id": "H-002", "thickness_mm": 6.1, "strip_length_mm": 250.0,
 "top": "strip-0", "plies_laid": 12, "fabric": "twill-2x2-6k-343"}
)";
constexpr const char* kOrdersJson = R"({"schema_version": 1,
 "rings": [{"name": "stock", "iso_size": 57, "wall_mm": 2.2, "width_mm": 5.0, "count": "fill"}],
 "saws": [{"name": "27", "outer_mm": 27.0, "kerf_mm": 1.5}], "web_mm": 2.0, "edge_margin_mm": 3.0,
 "turning_allowance_mm": 0.4}
)";

// More of everything than a maker would accept: the page of a poor sheet is the heavy one.
std::vector<SceneDefect> many_defects(std::uint64_t seed) {
  SceneRandom random(seed);
  std::vector<SceneDefect> defects;
  for (int i = 0; i < 60; ++i) {
    SceneDefect d;
    d.kind = i % 6 == 0 ? DefectLabel::dry_spot : i % 6 == 1 ? DefectLabel::resin_rich : DefectLabel::pinhole;
    d.at = {random.between(10, kSideMm - 10), random.between(10, kSideMm - 10)};
    d.radius_mm = d.kind == DefectLabel::pinhole ? random.between(0.4, 0.7) : random.between(3, 8);
    d.seed = seed + static_cast<std::uint64_t>(i);
    defects.push_back(d);
  }
  return defects;
}

// The whole table with its strips on a 12 MP picture.
SceneCamera camera_above(bool back) {
  SceneCamera camera;
  camera.size = {4032, 3024};
  camera.focal_35mm_mm = kFocal35Mm;
  camera.over = {kSideMm / 2, kSideMm / 2};
  camera.height_mm = 470;
  camera.tilt_deg = back ? 4 : 6;
  camera.tilt_toward_deg = back ? 200 : 50;
  camera.roll_deg = back ? -3 : 2;
  return camera;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fprintf(stderr, "usage: large_sheet DIR\n");
    return 2;
  }
  const std::filesystem::path out = argv[1];
  SceneSheet sheet;
  sheet.width_mm = sheet.height_mm = kSideMm;
  sheet.drags = {{{190, 90}, 25, {3.0, -1.5}}, {{80, 220}, 30, {-2.5, 1.2}}};
  sheet.front = many_defects(100);
  sheet.back = many_defects(200);
  sheet.seed = 300;
  for (const bool back : {false, true}) {
    const cv::Mat photo = render_photo(sheet, back, {}, camera_above(back)).bgr;
    write_file(out / (back ? "back.jpg" : "front.jpg"), phone_jpeg(photo, kFocal35Mm));
  }
  std::uint64_t seed = 11;
  for (const char* side : {"top", "right", "bottom", "left"})
    write_file(out / (std::string("edge-") + side + ".jpg"),
               phone_jpeg(render_edge(sheet, 60, 55, seed++), kFocal35Mm));
  write_file(out / "sheet.json", kSheetJson);
  write_file(out / "orders.json", kOrdersJson);
  return 0;
}
