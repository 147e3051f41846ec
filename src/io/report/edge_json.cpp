#include "io/report/json_figures.h"
#include "sheetloupe/io/report_json.h"

namespace sheetloupe {
namespace {

const char* name_of(PlyVerdict verdict) {
  switch (verdict) {
    case PlyVerdict::sure:
      return "sure";
    case PlyVerdict::between:
      return "between";
    case PlyVerdict::cannot_tell:
      return "cannot_tell";
    default:
      return "not_measured";
  }
}

const char* name_of(LaidVerdict verdict) {
  switch (verdict) {
    case LaidVerdict::confirmed:
      return "confirmed";
    case LaidVerdict::mismatch:
      return "mismatch";
    case LaidVerdict::mismatch_likely:
      return "mismatch_likely";
    case LaidVerdict::not_proven:
      return "not_proven";
    default:
      return "not_checked";
  }
}

template <class T>
Json or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json thickness_json(const EdgeReading& edge) {
  if (!edge.mm_per_px) return nullptr;
  Json at = Json::array();
  for (const auto& [along, thickness] : edge.thickness_at_mm) at.push_back(point_json(along, thickness, 3));
  return {{"mean", figure(edge.thickness_mean_mm, 3)}, {"min", figure(edge.thickness_min_mm, 3)},
          {"max", figure(edge.thickness_max_mm, 3)},   {"u95", figure(edge.thickness_u95_mm, 3)},
          {"taper", figure(edge.taper_mm, 3)},         {"at_mm", at}};
}

// Which figure gave the scale; beside the caliper's what a flush strip makes of it.
Json scale_json(const EdgeReading& edge) {
  const char* source = edge.scale_source == EdgeScaleSource::caliper ? "caliper"
                       : edge.scale_source == EdgeScaleSource::strip ? "strip"
                                                                     : "none";
  const auto& strip = edge.strip_thickness_mm;
  return {{"source", source},
          {"mm_per_px", edge.mm_per_px ? figure(*edge.mm_per_px, 6) : Json(nullptr)},
          {"strip_thickness_mm", strip ? figure(strip->value, 3) : Json(nullptr)},
          {"strip_thickness_u95_mm", strip ? figure(strip->u95, 3) : Json(nullptr)},
          {"remark", edge.scale_remark.empty() ? Json(nullptr) : Json(edge.scale_remark)}};
}

Json marks_json(const std::vector<EdgeMark>& marks) {
  Json list = Json::array();
  for (const EdgeMark& mark : marks) {
    list.push_back({{"kind", mark.kind},
                    {"from_mm", figure(mark.from_mm, 2)},
                    {"to_mm", figure(mark.to_mm, 2)},
                    {"below_ply", mark.below_ply > 0 ? Json(mark.below_ply) : Json(nullptr)},
                    {"box_px", points_json(mark.box_px)}});
  }
  return list;
}

}  // namespace

std::string laid_words(const EdgeReading& edge) {
  if (!edge.plies_laid) return "";
  const std::string laid = std::to_string(*edge.plies_laid);
  switch (edge.laid_verdict) {
    case LaidVerdict::confirmed:
      return "The edge confirms " + laid + " plies laid.\n";
    case LaidVerdict::mismatch:
      return "Laid were " + laid +
             " plies, the edge shows another count: a ply was left out or doubled, or the note is "
             "wrong.\n";
    case LaidVerdict::mismatch_likely:
      return "Laid were " + laid +
             " plies, which does not fit what the edge shows; take a better photo before trusting "
             "either.\n";
    case LaidVerdict::not_proven:
      return laid + " plies laid is possible, but this photo does not prove it.\n";
    default:
      return "The " + laid + " plies laid could not be checked.\n";
  }
}

Json edge_to_json(const EdgeReading& edge) {
  Json plies = Json::array();
  for (const double ply : edge.ply_thickness_mm) plies.push_back(figure(ply, 3));
  return {
      {"side", edge.side.empty() ? Json(nullptr) : Json(edge.side)},
      {"status", name_of(edge.verdict)},
      {"reason", edge.reason.empty() ? Json(nullptr) : Json(edge.reason)},
      {"plies", or_null(edge.plies)},
      {"plies_range", or_null(edge.plies_range)},
      {"plies_best", or_null(edge.plies_best)},
      {"px_per_ply", edge.px_per_ply > 0 ? figure(edge.px_per_ply, 1) : Json(nullptr)},
      {"band_px", edge.band_px > 0 ? figure(edge.band_px, 1) : Json(nullptr)},
      {"face_visible", edge.face_visible},
      {"laid", {{"plies", or_null(edge.plies_laid)}, {"verdict", name_of(edge.laid_verdict)}}},
      {"scale", scale_json(edge)},
      {"thickness_mm", thickness_json(edge)},
      {"ply_thickness_mm", plies},
      {"ply_thickness_u95_mm", edge.ply_thickness_mm.empty() ? Json(nullptr) : figure(edge.ply_thickness_u95_mm, 3)},
      {"delaminations", marks_json(edge.marks)}};
}

Json laminate_to_json(const Laminate& laminate) {
  const auto fraction = [](const std::optional<double>& value) { return value ? figure(*value, 3) : Json(nullptr); };
  Json range = nullptr;
  if (laminate.fibre_fraction_range)
    range = point_json((*laminate.fibre_fraction_range)[0], (*laminate.fibre_fraction_range)[1], 3);
  return {{"plies", or_null(laminate.plies)},
          {"plies_range", or_null(laminate.plies_range)},
          {"fibre_volume_fraction", fraction(laminate.fibre_fraction)},
          {"fibre_volume_fraction_u95", fraction(laminate.fibre_fraction_u95)},
          {"fibre_volume_fraction_range", range},
          {"areal_g_m2", fraction(laminate.areal_g_m2)},
          {"fibre_density_g_cm3", fraction(laminate.density_g_cm3)},
          {"thickness_mm", fraction(laminate.thickness_mm)},
          {"reason", laminate.reason.empty() ? Json(nullptr) : Json(laminate.reason)},
          {"reads_as", laminate.reads_as.empty() ? Json(nullptr) : Json(laminate.reads_as)}};
}

}  // namespace sheetloupe
