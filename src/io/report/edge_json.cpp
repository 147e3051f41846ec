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
  return {{"mean", figure(edge.thickness_mean_mm, 3)},
          {"min", figure(edge.thickness_min_mm, 3)},
          {"max", figure(edge.thickness_max_mm, 3)},
          {"u95", figure(edge.thickness_u95_mm, 3)},
          {"at_mm", at}};
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

Json edge_to_json(const EdgeReading& edge) {
  Json plies = Json::array();
  for (const double ply : edge.ply_thickness_mm) plies.push_back(figure(ply, 3));
  return {{"side", edge.side.empty() ? Json(nullptr) : Json(edge.side)},
          {"status", name_of(edge.verdict)},
          {"reason", edge.reason.empty() ? Json(nullptr) : Json(edge.reason)},
          {"plies", or_null(edge.plies)},
          {"plies_range", or_null(edge.plies_range)},
          {"plies_best", or_null(edge.plies_best)},
          {"px_per_ply", edge.px_per_ply > 0 ? figure(edge.px_per_ply, 1) : Json(nullptr)},
          {"band_px", edge.band_px > 0 ? figure(edge.band_px, 1) : Json(nullptr)},
          {"face_visible", edge.face_visible},
          {"laid", {{"plies", or_null(edge.plies_laid)}, {"verdict", name_of(edge.laid_verdict)}}},
          {"thickness_mm", thickness_json(edge)},
          {"ply_thickness_mm", plies},
          {"delaminations", marks_json(edge.marks)}};
}

}  // namespace sheetloupe
