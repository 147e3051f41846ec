// From the files that `inspect` and `place` left to what the log keeps.
#include <algorithm>
#include <cmath>

#include "io/report/json_figures.h"
#include "io/report/json_reading.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/fabric.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/fabrics_json.h"
#include "sheetloupe/io/grade_json.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/log.h"
#include "sheetloupe/io/strict_json.h"
#include "sheetloupe/io/usable_json.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

using reading::list;
using reading::member;
using reading::number;
using reading::text;

class Figures {
 public:
  explicit Figures(std::map<std::string, LogFigure>& to) : to_(to) {}
  void put(const char* name, std::optional<double> value, std::optional<double> u95 = {}) {
    if (value && std::isfinite(*value)) to_[name] = {*value, u95 && std::isfinite(*u95) ? u95 : std::nullopt};
  }

 private:
  std::map<std::string, LogFigure>& to_;
};

// Pinholes and areas over all judged faces together. A find is real with its confidence p, so a count's variance is the
// sum of p (1 - p).
void defect_figures(const GradeInput& input, Figures& figures) {
  double face_mm2 = 0, pinholes = 0, variance = 0, dry = 0, dry_u2 = 0, resin = 0, resin_u2 = 0, judged = 100;
  double smallest = 0;
  for (const GradeFace& face : input.faces) {
    if (!face.judged) continue;
    face_mm2 += face.width_mm * face.height_mm * face.judged_share / 100;
    judged = std::min(judged, face.judged_share);
    smallest = std::max(smallest, face.smallest_pinhole_mm);
    for (const GradeDefect& d : face.defects) {
      const double unsure = d.confidence * (1 - d.confidence);
      const double area_u2 = std::pow(d.area_u95_mm2, 2) + std::pow(1.96 * d.area_mm2, 2) * unsure;
      if (d.kind == DefectLabel::pinhole) ++pinholes, variance += unsure;
      if (d.kind == DefectLabel::dry_spot) dry += d.area_mm2, dry_u2 += area_u2;
      if (d.kind == DefectLabel::resin_rich) resin += d.area_mm2, resin_u2 += area_u2;
    }
  }
  if (face_mm2 <= 0) return;
  figures.put("pinholes", pinholes, 1.96 * std::sqrt(variance));
  figures.put("pinholes_per_dm2", pinholes * 1e4 / face_mm2, 1.96 * std::sqrt(variance) * 1e4 / face_mm2);
  figures.put("dry_spot_percent", 100 * dry / face_mm2, 100 * std::sqrt(dry_u2) / face_mm2);
  figures.put("resin_rich_percent", 100 * resin / face_mm2, 100 * std::sqrt(resin_u2) / face_mm2);
  figures.put("judged_percent", judged);
  figures.put("smallest_pinhole_mm", smallest);
}

void weave_figures(const GradeInput& input, Figures& figures) {
  std::optional<double> turn, shear, u95;
  for (const GradeFace& face : input.faces) {
    if (!face.weave_found) continue;
    turn = std::max(turn.value_or(0), face.turn_p95_deg);
    shear = std::max(shear.value_or(0), face.shear_p95_deg);
    u95 = std::max(u95.value_or(0), face.local_u95_deg);
  }
  figures.put("tow_turn_p95_deg", turn, u95);
  figures.put("shear_p95_deg", shear, u95 ? std::optional(std::sqrt(2.0) * *u95) : std::nullopt);
}

void edge_figures(const Json& report, Figures& figures) {
  double sum = 0, u95 = 0, spread = 0;
  int n = 0;
  for (const Json& edge : list(report, "edges")) {
    const Json& t = member(edge, "thickness_mm");
    if (text(edge, "status") == "sure" && number(edge, "plies")) figures.put("plies", number(edge, "plies"));
    const auto mean = number(t, "mean");
    if (!mean) continue;
    sum += *mean;
    u95 = std::max(u95, number(t, "u95").value_or(0.0));
    spread = std::max(spread, number(t, "max").value_or(0.0) - number(t, "min").value_or(0.0));
    ++n;
  }
  if (n > 0) {
    figures.put("thickness_mm", sum / n, u95);
    figures.put("thickness_spread_mm", spread);
  } else {
    figures.put("thickness_mm", number(member(report, "sheet"), "thickness_mm"));
  }
}

void face_figures(const Json& report, Inspected& i, Figures& figures) {
  for (const Json& face : list(report, "faces")) {
    for (const Json& photo : list(face, "photos")) i.photos.emplace_back(text(photo, "file"), text(photo, "sha256"));
    if (text(face, "role") != "front" || text(face, "status") != "measured") continue;
    const Json& outline = member(face, "outline");
    i.width_mm = number(outline, "width_mm").value_or(0.0);
    i.height_mm = number(outline, "height_mm").value_or(0.0);
    figures.put("width_mm", i.width_mm, number(outline, "side_u95_mm"));
    figures.put("height_mm", i.height_mm, number(outline, "side_u95_mm"));
    figures.put("position_u95_mm", number(member(face, "scale"), "position_u95_mm"));
    figures.put("warp_pitch_mm", number(member(face, "weave"), "warp_pitch_mm"),
                number(member(face, "weave"), "warp_pitch_u95_mm"));
    figures.put("weft_pitch_mm", number(member(face, "weave"), "weft_pitch_mm"),
                number(member(face, "weave"), "weft_pitch_u95_mm"));
  }
}

RecipeValue recipe_value(const Json& value) {
  if (value.is_number()) return value.get<double>();
  return value.is_string() ? value.get<std::string>() : value.dump();
}

// Resin weighed in, over the dry weight of the cloth laid: the figure that shops compare.
std::optional<double> resin_per_cloth(const Json& sheet, const Inspected& i) {
  const auto resin = number(member(sheet, "recipe"), "resin_g"), plies = number(sheet, "plies_laid");
  if (!resin || !plies || i.width_mm <= 0 || *plies <= 0) return {};
  for (const Fabric& f : known_fabrics()) {
    if (f.name == text(sheet, "fabric")) return *resin / (*plies * f.areal_g_m2 * i.width_mm * i.height_mm * 1e-6);
  }
  return {};
}

void read_recipe(const Json& sheet, Inspected& i) {
  for (const auto& [key, value] : member(sheet, "recipe").items()) i.recipe[key] = recipe_value(value);
  for (const char* key : {"fabric", "plies_laid"})
    if (sheet.contains(key)) i.recipe[key] = recipe_value(sheet[key]);
  if (const auto ratio = resin_per_cloth(sheet, i)) i.recipe["resin_per_cloth"] = figure(*ratio, 3).get<double>();
}

void read_defects(const fs::path& map_file, const GradeInput& input, Inspected& i) {
  if (!fs::exists(map_file)) return;
  std::map<std::string, double> confidence;
  for (const GradeFace& face : input.faces)
    for (const GradeDefect& d : face.defects) confidence[d.id] = d.confidence;
  for (const MapFeature& f : read_usable_map(map_file).features) {
    if (f.kind != FeatureKind::defect) continue;
    const SheetPoint at = f.point ? f.point->centre : centroid(f.polygon.outer);
    const auto p = confidence.find(f.id);
    i.defects.push_back(
        {f.id, f.defect, f.face, at, f.area_mm2.value_or(0.0), p == confidence.end() ? 1.0 : p->second});
  }
}

void read_plan(const Json& blanks, Inspected& i, Figures& figures) {
  if (!blanks.is_object()) return;
  for (const Json& b : list(blanks, "blanks")) {
    const Json at = list(b, "centre_mm");
    if (at.size() != 2) continue;
    i.blanks.push_back({text(b, "id"),
                        text(b, "ring"),
                        {at[0].get<double>(), at[1].get<double>()},
                        number(b, "saw_outer_mm").value_or(0.0)});
  }
  figures.put("blanks", static_cast<double>(i.blanks.size()));
  figures.put("flawless", number(member(blanks, "bound"), "flawless_sheet"));
  const Json& yield = member(blanks, "yield");
  figures.put("ring_yield_percent", number(yield, "percent"));
  for (const auto& [cause, percent] : member(yield, "barred_percent").items())
    if (percent.is_number()) i.barred_percent[cause] = percent.get<double>();
}

// Without grids, shapes and the rubric's text: what a person may ask again later.
std::string slim(Json report) {
  for (Json& face : report["faces"]) {
    if (face.contains("scale")) face["scale"].erase("grid");
    if (face.contains("outline")) face["outline"].erase("polygon_mm");
    if (face.contains("weave") && face["weave"].is_object()) face["weave"].erase("reading");
    if (face.contains("defects"))
      for (Json& item : face["defects"]["items"]) item.erase("polygon_mm");
  }
  for (Json& edge : report["edges"])
    if (edge.contains("thickness_mm") && edge["thickness_mm"].is_object()) edge["thickness_mm"].erase("at_mm");
  if (report.contains("grade")) report["grade"].erase("rubric_used");
  return report.dump();
}

}  // namespace

const std::vector<MeasureName>& log_measures() {
  static const std::vector<MeasureName> measures = {
      {"usable_percent", "usable share of the sheet", "%", 1},
      {"ring_yield_percent", "ring yield", "%", 1},
      {"blanks", "blanks planned", "", 0},
      {"flawless", "blanks of a flawless sheet", "", 0},
      {"pinholes_per_dm2", "pinholes", "per dm\u00b2", 2},
      {"pinholes", "pinholes", "", 0},
      {"dry_spot_percent", "dry area", "%", 2},
      {"resin_rich_percent", "resin-rich area", "%", 2},
      {"tow_turn_p95_deg", "weave turn", "\u00b0", 2},
      {"shear_p95_deg", "shear", "\u00b0", 2},
      {"thickness_mm", "thickness", "mm", 2},
      {"thickness_spread_mm", "thickness spread", "mm", 2},
      {"fibre_volume_percent", "fibre volume", "%", 1},
      {"plies", "plies on the edge", "", 0},
      {"warp_pitch_mm", "spacing of warp tows", "mm", 3},
      {"weft_pitch_mm", "spacing of weft tows", "mm", 3},
      {"width_mm", "width", "mm", 1},
      {"height_mm", "height", "mm", 1},
      {"judged_percent", "judged share", "%", 1},
      {"smallest_pinhole_mm", "smallest pinhole seen", "mm", 2},
      {"position_u95_mm", "positions true to", "mm", 2},
  };
  return measures;
}

Inspected read_inspected(const fs::path& folder) {
  if (!fs::is_directory(folder)) throw InputError({"no such folder", folder.string(), "", "a sheet folder", ""});
  const fs::path out = fs::exists(folder / "loupe" / "report.json") ? folder / "loupe" : folder;
  if (!fs::exists(out / "report.json")) {
    throw InputError({"the sheet was not inspected yet", folder.string(), "", "loupe/report.json in it",
                      "Run first: sheetloupe inspect " + folder.string()});
  }
  require_finished(out);
  const bool planned = fs::exists(out / "blanks.json");
  const std::string report_text = read_file(out / "report.json");
  const std::string blanks_text = planned ? read_file(out / "blanks.json") : "";
  const Json report = parse_json(report_text, (out / "report.json").string());
  const Json blanks = planned ? parse_json(blanks_text, (out / "blanks.json").string()) : Json(nullptr);
  JsonReader(report, (out / "report.json").string()).schema_version(1);
  const Json& sheet = member(report, "sheet");
  Inspected i;
  i.sheet = text(sheet, "id");
  if (i.sheet.empty())
    throw InputError({"the report names no sheet", (out / "report.json").string(), "", "sheet.id", "Inspect it again"});
  i.made = text(sheet, "made");
  i.tool = text(member(report, "tool"), "version");
  i.rubric = text(member(report, "grade"), "rubric");
  i.grade = text(member(report, "grade"), "grade");
  if (i.grade.empty()) i.grade = "not graded";
  i.datum = sheet.contains("top");
  i.content_sha256 = sha256_hex(report_text + '\0' + blanks_text);
  Figures figures(i.measures);
  const GradeInput input = grade_input(report, blanks);
  face_figures(report, i, figures);
  defect_figures(input, figures);
  weave_figures(input, figures);
  edge_figures(report, figures);
  figures.put("usable_percent", input.usable_share);
  if (const auto fraction = number(member(report, "laminate"), "fibre_volume_fraction"))
    figures.put("fibre_volume_percent", 100 * *fraction,
                100 * number(member(report, "laminate"), "fibre_volume_fraction_u95").value_or(NAN));
  read_plan(blanks, i, figures);
  read_recipe(sheet, i);
  read_defects(out / "usable.geojson", input, i);
  i.report = slim(report);
  return i;
}

}  // namespace sheetloupe
