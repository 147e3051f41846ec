#include "sheetloupe/io/inspection_files.h"

#include <fstream>
#include <functional>
#include <iterator>

#include "io/float_tiff.h"
#include "io/photo/jpeg.h"
#include "io/png.h"
#include "io/report/json_figures.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/edge_picture.h"
#include "sheetloupe/io/fabrics_json.h"
#include "sheetloupe/io/grade_json.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/models.h"
#include "sheetloupe/io/overlay.h"
#include "sheetloupe/io/report_json.h"
#include "sheetloupe/io/report_page.h"
#include "sheetloupe/io/strict_json.h"
#include "sheetloupe/io/usable_json.h"
#include "sheetloupe/side_by_side.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

FileDraft picture_file(const fs::path& path, const cv::Mat& picture) {
  constexpr int kJpegQuality = 88;
  if (path.extension() == ".png") return {path, png_bytes(picture)};
  if (path.extension() == ".tiff") return {path, float_tiff(picture)};
  return {path, jpeg_bytes(picture, kJpegQuality)};
}

// One picture still to be drawn and packed; the slow part of writing, so all are made side by side.
using Making = std::function<FileDraft()>;

void add_face(const FaceResult& face, const fs::path& out, std::vector<Making>& files) {
  if (face.status != FaceStatus::measured) return;
  const fs::path stem = out / "maps" / face.role;
  const auto add = [&](const char* ending, const cv::Mat& picture) {
    const fs::path path(stem.string() + ending);
    files.push_back([=] { return picture_file(path, picture); });
  };
  add("_flat.jpg", face.sheet.bgr);
  if (face.weave.found) {
    add("_warp_deg.tiff", face.weave.warp_deg);
    add("_weft_deg.tiff", face.weave.weft_deg);
    add("_angle_u95_deg.tiff", face.weave.u95_deg);
  }
  if (face.defects.judged) add("_defects.png", face.defects.labels);
}

FaceInput face_of(const std::string& role, const std::vector<fs::path>& files, std::vector<Photo>& photos,
                  std::size_t from) {
  FaceInput face;
  face.role = role;
  for (std::size_t i = 0; i < files.size(); ++i) face.photos.push_back(std::move(photos[from + i]));
  return face;
}

}  // namespace

InspectInput load_inspect_input(const SheetFolder& folder) {
  InspectInput input;
  input.sheet_id = folder.facts.id;
  input.standards = folder.facts.standards;
  input.datum_strip = folder.facts.datum_strip;
  input.plies_laid = folder.facts.plies_laid;
  input.turned = folder.facts.turned;
  input.thickness_at_mm = folder.facts.thickness_at_mm;
  input.edge_from_mm = folder.facts.edge_from_mm;
  for (const Fabric& fabric : known_fabrics()) {
    if (folder.facts.fabric == fabric.name) input.fabric = fabric;
  }
  std::vector<fs::path> files = folder.front;
  files.insert(files.end(), folder.back.begin(), folder.back.end());
  for (const auto& edge : folder.edges) files.push_back(edge.second);
  std::vector<Photo> photos(files.size());
  side_by_side(files.size(), [&](std::size_t i) { photos[i] = load_photo(files[i]); });
  input.faces.push_back(face_of("front", folder.front, photos, 0));
  if (!folder.back.empty()) input.faces.push_back(face_of("back", folder.back, photos, folder.front.size()));
  std::size_t next = folder.front.size() + folder.back.size();
  for (const auto& [side, file] : folder.edges) input.edges.push_back({side, std::move(photos[next++])});
  return input;
}

namespace {

// Without it the plain decision is taken.
std::vector<unsigned char> net(const char* name) {
  std::ifstream file(model_path(name), std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace

std::string ply_weights() {
  std::ifstream file(model_path("plies.txt"), std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

InspectOptions options_for(const SheetFacts& facts, const Rubric& rubric) {
  InspectOptions options;
  options.weave_limit_deg = rubric.weave_zone_deg;
  options.weave.warp_along_y = facts.warp_along_y;
  // A missed pit costs an hour of work, a false one a place on the sheet: three false finds on four faces are a fair
  // price. A false dry spot takes the room of several rings, and fewer of them cost no true one on the faces rendered.
  options.defects.false_alarms_per_sheet = 0.75;
  options.defects.false_areas_per_sheet = 0.2;
  options.defects.pinhole_net = net("pinholes.onnx");
  options.defects.area_net = net("areas.onnx");
  options.edges.weights = ply_weights();
  return options;
}

Json write_inspection(const Inspection& inspection, const InspectInput& input, const SheetFacts& facts,
                      const Rubric& rubric, const fs::path& out, StageTimes* times) {
  if (times) times->begin("pictures");
  std::vector<Making> pictures;
  for (std::size_t i = 0; i < inspection.faces.size(); ++i) {
    const FaceResult& face = inspection.faces[i];
    pictures.push_back([&face, &photo = input.faces[i].photos[0], &out] {
      return picture_file(out / (face.role + "_overlay.png"), draw_overlay(photo, face));
    });
    add_face(face, out, pictures);
  }
  for (std::size_t i = 0; i < inspection.edges.size(); ++i) {
    pictures.push_back([&edge = inspection.edges[i], &photo = input.edges[i].photo, &out] {
      return picture_file(out / ("edge-" + edge.side + "_overlay.png"), draw_edge(photo, edge));
    });
  }
  std::vector<FileDraft> files(pictures.size());
  side_by_side(pictures.size(), [&](std::size_t i) { files[i] = pictures[i](); });
  Json report = report_to_json(inspection, facts.given);
  if (!inspection.usable.features.empty()) {
    files.push_back({out / "usable.geojson", usable_map_to_json(inspection.usable).dump() + "\n"});
    const UsableShare share = usable_share(inspection.usable);
    std::vector<DefectAnalysis> found;
    for (const FaceResult& face : inspection.faces) found.push_back(face.defects);
    report["usable"] = {{"file", "usable.geojson"},
                        {"area_mm2", figure(share.area_mm2, 1)},
                        {"fraction", figure(share.fraction, 4)},
                        {"fraction_u95", figure(usable_fraction_u95(inspection.usable, found), 4)}};
  }
  put_grade(report, nullptr, rubric);
  if (times) files.push_back({out / "times.json", times->so_far().dump(1) + "\n"});
  files.push_back({out / "report.json", report.dump(1) + "\n"});
  write_files(files, [&] { write_report_page(out); });
  return report;
}

}  // namespace sheetloupe
