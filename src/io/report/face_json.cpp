#include "io/report/json_figures.h"
#include "sheetloupe/io/report_json.h"

namespace sheetloupe {
namespace {

const char* name_of(FaceStatus status) {
  switch (status) {
    case FaceStatus::measured:
      return "measured";
    case FaceStatus::measured_in_px:
      return "measured_in_px";
    default:
      return "not_measured";
  }
}

const char* name_of(ScaleSource source) {
  switch (source) {
    case ScaleSource::strips:
      return "strips";
    case ScaleSource::strips_and_size:
      return "strips+size";
    case ScaleSource::sides:
      return "sides";
    default:
      return "none";
  }
}

const char* name_of(WeavePattern pattern) {
  switch (pattern) {
    case WeavePattern::plain:
      return "plain";
    case WeavePattern::twill_2x2:
      return "twill-2x2";
    case WeavePattern::satin_5:
      return "satin-5";
    default:
      return "unknown";
  }
}

// 11 x 11 points spread over the whole outline, by bilinear blending of its corners.
Json grid_json(const FaceResult& face) {
  constexpr int kSteps = 10;
  Json sheet = Json::array(), photo = Json::array();
  const auto& c = face.corners_mm;
  for (int row = 0; row <= kSteps; ++row) {
    for (int column = 0; column <= kSteps; ++column) {
      const double u = static_cast<double>(column) / kSteps, v = static_cast<double>(row) / kSteps;
      const auto blend = [&](double a, double b, double d, double e) {
        return (1 - v) * ((1 - u) * a + u * b) + v * ((1 - u) * e + u * d);
      };
      const SheetPoint p{blend(c[0].x, c[1].x, c[2].x, c[3].x), blend(c[0].y, c[1].y, c[2].y, c[3].y)};
      sheet.push_back(point_json(p.x, p.y, 4));
      const ImagePoint q = face.scale.map->image_from_sheet(p);
      photo.push_back(point_json(q.x, q.y, 4));
    }
  }
  return {{"sheet_mm", sheet}, {"photo_px", photo}};
}

Json scale_json(const FaceResult& face) {
  Json json = {{"source", name_of(face.scale.source)}};
  if (face.status != FaceStatus::measured) {
    json["mm_per_px"] = nullptr;
    json["position_u95_mm"] = nullptr;
    json["reason"] = face.scale.reason.empty() ? face.reason : face.scale.reason;
    return json;
  }
  json["mm_per_px"] = figure(face.sheet.photo_mm_per_px, 4);
  json["position_u95_mm"] = figure(face.scale.position_u95_mm, 2);
  json["sigma_px"] = figure(face.scale.sigma_px, 3);
  json["grid"] = grid_json(face);
  return json;
}

Json outline_json(const FaceResult& face) {
  Json json = {{"corners_px", points_json(face.outline.corners_px)}};
  if (face.status != FaceStatus::measured) return json;
  json["corners_mm"] = points_json(face.corners_mm);
  json["polygon_mm"] = points_json(face.outline_mm);
  json["width_mm"] = figure(face.width_mm, 2);
  json["height_mm"] = figure(face.height_mm, 2);
  json["side_u95_mm"] = figure(face.side_u95_mm, 2);
  json["rough"] = face.outline.rough;
  return json;
}

// The maps on a coarse grid, for a page to read out: turn of each tow set from its own mean, null where not measured.
Json reading_json(const WeaveAnalysis& w) {
  constexpr double kStepMm = 5.0;
  const cv::Mat1f warp = w.warp_deg, weft = w.weft_deg;
  const int every = std::max(1, static_cast<int>(std::lround(kStepMm / w.map_mm_per_px)));
  const int columns = (warp.cols + every - 1) / every, rows = (warp.rows + every - 1) / every;
  Json a = Json::array(), b = Json::array();
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < columns; ++c) {
      const int i = std::min(warp.rows - 1, r * every + every / 2), j = std::min(warp.cols - 1, c * every + every / 2);
      const bool seen = !std::isnan(warp(i, j));
      a.push_back(seen ? figure(wrap_turn_degrees(warp(i, j) - w.warp.degrees()), 1) : Json(nullptr));
      b.push_back(seen ? figure(wrap_turn_degrees(weft(i, j) - w.weft.degrees()), 1) : Json(nullptr));
    }
  }
  return {{"step_mm", figure(every * w.map_mm_per_px, 4)},
          {"origin_mm", point_json(w.map_origin)},
          {"columns", columns},
          {"rows", rows},
          {"warp_turn_deg", a},
          {"weft_turn_deg", b}};
}

Json tow_faults_json(const WeaveAnalysis& w) {
  Json list = Json::array();
  for (const TowFault& f : w.tow_faults) {
    list.push_back({{"set", f.warp ? "warp" : "weft"},
                    {"whole", f.whole},
                    {"closed_up", f.closed_up},
                    {"from_mm", point_json(f.from)},
                    {"to_mm", point_json(f.to)}});
  }
  return list;
}

Json weave_json(const FaceResult& face) {
  const WeaveAnalysis& w = face.weave;
  if (!w.found) return {{"pattern", "unknown"}, {"warp_deg", nullptr}, {"weft_deg", nullptr}, {"reason", w.reason}};
  const std::string stem = "maps/" + face.role;
  return {
      {"pattern", name_of(w.pattern)},
      {"warp_deg", figure(w.warp.degrees(), 2)},
      {"weft_deg", figure(w.weft.degrees(), 2)},
      {"angle_u95_deg", figure(w.angle_u95_deg, 2)},
      {"local_u95_deg", figure(w.local_u95_deg, 2)},
      {"warp_pitch_mm", figure(w.warp_pitch.value(), 3)},
      {"weft_pitch_mm", figure(w.weft_pitch.value(), 3)},
      {"warp_pitch_u95_mm", figure(w.warp_pitch_u95.value(), 3)},
      {"weft_pitch_u95_mm", figure(w.weft_pitch_u95.value(), 3)},
      {"shear_deg",
       {{"mean", figure(w.shear_mean_deg, 2)},
        {"p95_abs", figure(w.shear_p95_abs_deg, 2)},
        {"max_abs", figure(w.shear_max_abs_deg, 2)},
        {"max_abs_u95", figure(w.shear_max_u95_deg, 2)}}},
      {"deviation_deg",
       {{"warp_p95", figure(w.warp_deviation_p95_deg, 2)},
        {"weft_p95", figure(w.weft_deviation_p95_deg, 2)},
        {"max", figure(w.deviation_max_deg, 2)},
        {"max_u95", figure(w.deviation_max_u95_deg, 2)}}},
      {"coverage", figure(w.coverage, 4)},
      {"tow_faults", tow_faults_json(w)},
      {"remarks", w.remarks},
      {"reading", reading_json(w)},
      {"maps",
       {{"warp", stem + "_warp_deg.tiff"},
        {"weft", stem + "_weft_deg.tiff"},
        {"u95", stem + "_angle_u95_deg.tiff"},
        {"origin_mm", point_json(w.map_origin)},
        {"mm_per_px", w.map_mm_per_px}}},
  };
}

Json zones_json(const std::vector<WeaveZone>& zones) {
  Json list = Json::array();
  for (const WeaveZone& zone : zones) {
    list.push_back({{"what", zone.what},
                    {"worst_deg", figure(zone.worst_deg, 2)},
                    {"worst_at_mm", point_json(zone.worst_at)},
                    {"area_mm2", figure(area_mm2(zone.polygon), 1)},
                    {"polygon_mm", points_json(zone.polygon.outer)}});
  }
  return list;
}

Json defect_json(const Defect& item) {
  return {{"id", item.id},
          {"kind", name_of(item.kind)},
          {"centre_mm", point_json(item.centre)},
          {"area_mm2", figure(item.area_mm2, 3)},
          {"area_u95_mm2", figure(item.area_u95_mm2, 3)},
          {"max_diameter_mm", figure(item.max_diameter.value(), 2)},
          {"polygon_mm", points_json(item.polygon)},
          {"confidence", figure(item.confidence, 2)}};
}

Json defects_json(const FaceResult& face) {
  const DefectAnalysis& d = face.defects;
  if (!d.judged)
    return {{"judged_fraction", 0.0}, {"reason", d.reason}, {"items", Json::array()}, {"suspects", Json::array()}};
  double dry = 0, pinhole = 0, resin = 0;
  int pinholes = 0;
  Json items = Json::array();
  for (const Defect& item : d.items) {
    if (item.kind == DefectLabel::dry_spot) dry += item.area_mm2;
    if (item.kind == DefectLabel::resin_rich) resin += item.area_mm2;
    if (item.kind == DefectLabel::pinhole) {
      pinhole += item.area_mm2;
      ++pinholes;
    }
    items.push_back(defect_json(item));
  }
  Json suspects = Json::array();
  for (const Defect& item : d.suspects) suspects.push_back(defect_json(item));
  return {{"smallest_pinhole_mm", figure(d.smallest_pinhole_mm, 2)},
          {"judged_fraction", figure(d.judged_fraction, 4)},
          {"dry_spot_area_mm2", figure(dry, 2)},
          {"pinhole_area_mm2", figure(pinhole, 3)},
          {"pinhole_count", pinholes},
          {"resin_rich_area_mm2", figure(resin, 2)},
          {"map",
           {{"file", "maps/" + face.role + "_defects.png"},
            {"origin_mm", point_json(d.origin)},
            {"mm_per_px", d.mm_per_px}}},
          {"items", items},
          {"suspects", suspects}};
}

Json check_json(const FaceResult& face) {
  return {{"blur_sigma_px", face.check.blur_sigma_px > 0 ? figure(face.check.blur_sigma_px, 2) : Json(nullptr)},
          {"blown_fraction", figure(face.check.blown_fraction, 4)},
          {"crushed_fraction", figure(face.check.crushed_fraction, 4)}};
}

}  // namespace

Json face_to_json(const FaceResult& face) {
  Json photos = Json::array();
  for (std::size_t i = 0; i < face.photo_files.size(); ++i) {
    photos.push_back({{"file", face.photo_files[i]}, {"sha256", face.photo_sha256[i]}});
  }
  Json json = {{"role", face.role},
               {"photos", photos},
               {"status", name_of(face.status)},
               {"reason", face.reason.empty() ? Json(nullptr) : Json(face.reason)},
               {"advice", face.advice}};
  if (face.status == FaceStatus::not_measured) return json;
  json["photo_check"] = check_json(face);
  json["scale"] = scale_json(face);
  json["outline"] = outline_json(face);
  if (face.status != FaceStatus::measured) return json;
  json["flat_picture"] = {{"file", "maps/" + face.role + "_flat.jpg"},
                          {"origin_mm", point_json(face.sheet.origin)},
                          {"mm_per_px", face.sheet.mm_per_px}};
  json["weave"] = weave_json(face);
  json["weave"]["zones"] = zones_json(face.weave_zones);
  json["defects"] = defects_json(face);
  return json;
}

}  // namespace sheetloupe
