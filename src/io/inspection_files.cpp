#include "sheetloupe/io/inspection_files.h"

#include <fstream>
#include <functional>
#include <iterator>

#include "io/float_tiff.h"
#include "io/page/embedded_pictures.h"
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

// A picture as a file, and as the page carries it under a name where it does.
struct Made {
  FileDraft file;
  std::string name;
  page::Picture on_page;
};

// One picture still to be drawn and packed; the slow part of writing, so all are made side by side.
using Making = std::function<Made()>;

Made flat_picture(const fs::path& path, const std::string& name, const cv::Mat& flat) {
  constexpr int kJpegQuality = 88;
  const std::string jpeg = jpeg_bytes(flat, kJpegQuality);
  return {{path, jpeg}, name, page::embedded_picture(name, flat, jpeg)};
}

void add_face(const FaceResult& face, const Photo& photo, const fs::path& out, std::vector<Making>& pictures) {
  pictures.push_back([&, path = out / (face.role + "_overlay.png")] {
    return Made{{path, png_bytes(draw_overlay(photo, face))}, {}, {}};
  });
  if (face.status != FaceStatus::measured) return;
  const auto map = [&](const char* ending) { return out / "maps" / (face.role + ending); };
  pictures.push_back([&, path = map("_flat.jpg")] { return flat_picture(path, face.role + "_flat", face.sheet.bgr); });
  if (face.weave.found) {
    for (const auto& [ending, turn] :
         {std::pair("_warp_deg.tiff", &face.weave.warp_deg), std::pair("_weft_deg.tiff", &face.weave.weft_deg),
          std::pair("_angle_u95_deg.tiff", &face.weave.u95_deg)})
      pictures.push_back([path = map(ending), turn = turn] { return Made{{path, float_tiff(*turn)}, {}, {}}; });
  }
  if (face.defects.judged) {
    pictures.push_back([&, path = map("_defects.png")] {
      return Made{{path, png_bytes(face.defects.labels)}, {}, {}};
    });
  }
}

void add_edge(const EdgeReading& edge, const Photo& photo, const fs::path& out, std::vector<Making>& pictures) {
  pictures.push_back([&, name = "edge-" + edge.side, path = out / ("edge-" + edge.side + "_overlay.png")] {
    const cv::Mat drawn = draw_edge(photo, edge);
    return Made{{path, png_bytes(drawn)}, name, page::embedded_picture(name, drawn)};
  });
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
  for (std::size_t i = 0; i < inspection.faces.size(); ++i)
    add_face(inspection.faces[i], input.faces[i].photos[0], out, pictures);
  for (std::size_t i = 0; i < inspection.edges.size(); ++i)
    add_edge(inspection.edges[i], input.edges[i].photo, out, pictures);
  std::vector<Made> made(pictures.size());
  side_by_side(pictures.size(), [&](std::size_t i) { made[i] = pictures[i](); });
  std::vector<FileDraft> files;
  std::map<std::string, page::Picture> for_page;
  for (Made& one : made) {
    files.push_back(std::move(one.file));
    if (!one.name.empty()) for_page[one.name] = std::move(one.on_page);
  }
  Json report = report_to_json(inspection, facts.given);
  std::string usable;
  if (!inspection.usable.features.empty()) {
    usable = usable_map_to_json(inspection.usable).dump() + "\n";
    files.push_back({out / "usable.geojson", usable});
    const UsableShare share = usable_share(inspection.usable);
    std::vector<DefectAnalysis> found;
    for (const FaceResult& face : inspection.faces) found.push_back(face.defects);
    report["usable"] = {{"file", "usable.geojson"},
                        {"area_mm2", figure(share.area_mm2, 1)},
                        {"fraction", figure(share.fraction, 4)},
                        {"fraction_u95", figure(usable_fraction_u95(inspection.usable, found), 4)}};
  }
  put_grade(report, nullptr, rubric);
  const Json taken = times ? times->so_far() : Json(nullptr);
  if (times) files.push_back({out / "times.json", taken.dump(1) + "\n"});
  files.push_back({out / "report.json", report.dump(1) + "\n"});
  files.push_back(report_page_file(out, report, taken, usable, for_page));
  write_files(files);
  return report;
}

}  // namespace sheetloupe
