#include "sheetloupe/io/inspection_files.h"

#include <fstream>
#include <iterator>
#include <opencv2/imgcodecs.hpp>

#include "io/report/json_figures.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/fabrics_json.h"
#include "sheetloupe/io/grade_json.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/overlay.h"
#include "sheetloupe/io/report_json.h"
#include "sheetloupe/io/report_page.h"
#include "sheetloupe/io/strict_json.h"
#include "sheetloupe/io/usable_json.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

void write_picture(const fs::path& path, const cv::Mat& picture, const std::vector<int>& parameters = {}) {
  std::vector<unsigned char> bytes;
  cv::imencode(path.extension().string(), picture, bytes, parameters);
  write_file(path, {reinterpret_cast<const char*>(bytes.data()), bytes.size()});
}

void write_face(const FaceResult& face, const fs::path& out) {
  if (face.status != FaceStatus::measured) return;
  const fs::path stem = out / "maps" / face.role;
  const auto named = [&](const char* ending) { return fs::path(stem.string() + ending); };
  write_picture(named("_flat.jpg"), face.sheet.bgr, {cv::IMWRITE_JPEG_QUALITY, 88});
  if (face.weave.found) {
    write_picture(named("_warp_deg.tiff"), face.weave.warp_deg);
    write_picture(named("_weft_deg.tiff"), face.weave.weft_deg);
    write_picture(named("_angle_u95_deg.tiff"), face.weave.u95_deg);
  }
  if (face.defects.judged) write_picture(named("_defects.png"), face.defects.labels);
}

FaceInput load_face(const std::string& role, const std::vector<fs::path>& files) {
  FaceInput face;
  face.role = role;
  for (const fs::path& file : files) face.photos.push_back(load_photo(file));
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
  for (const Fabric& fabric : known_fabrics()) {
    if (folder.facts.fabric == fabric.name) input.fabric = fabric;
  }
  input.faces.push_back(load_face("front", folder.front));
  if (!folder.back.empty()) input.faces.push_back(load_face("back", folder.back));
  for (const auto& [side, file] : folder.edges) input.edges.push_back({side, load_photo(file)});
  return input;
}

namespace {

// Read from the source tree, where the program was built; without it the plain decision is taken.
std::vector<unsigned char> pinhole_net() {
  std::ifstream file(fs::path(SHEETLOUPE_SOURCE_MODELS) / "pinholes.onnx", std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace

InspectOptions options_for(const SheetFacts& facts, const Rubric& rubric) {
  InspectOptions options;
  options.weave_limit_deg = rubric.weave_zone_deg;
  options.weave.warp_along_y = facts.warp_along_y;
  // A missed pit costs an hour of work, a false one a place on the sheet: one false find a face is a fair price.
  options.defects.false_alarms_per_sheet = 1.0;
  options.defects.pinhole_net = pinhole_net();
  return options;
}

Json write_inspection(const Inspection& inspection, const InspectInput& input, const SheetFacts& facts,
                      const Rubric& rubric, const fs::path& out) {
  for (std::size_t i = 0; i < inspection.faces.size(); ++i) {
    const FaceResult& face = inspection.faces[i];
    // Of a photo's noise nothing is gained by packing harder: level 1 is the fastest.
    write_picture(out / (face.role + "_overlay.png"), draw_overlay(input.faces[i].photos[0], face),
                  {cv::IMWRITE_PNG_COMPRESSION, 1});
  }
  for (const FaceResult& face : inspection.faces) write_face(face, out);
  Json report = report_to_json(inspection, facts.given);
  if (!inspection.usable.features.empty()) {
    write_file(out / "usable.geojson", usable_map_to_json(inspection.usable).dump() + "\n");
    const UsableShare share = usable_share(inspection.usable);
    report["usable"] = {
        {"file", "usable.geojson"}, {"area_mm2", figure(share.area_mm2, 1)}, {"fraction", figure(share.fraction, 4)}};
  }
  put_grade(report, nullptr, rubric);
  write_file(out / "report.json", report.dump(1) + "\n");
  write_report_page(out);
  return report;
}

}  // namespace sheetloupe
