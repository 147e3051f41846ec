#include <opencv2/imgproc.hpp>

#include "sheetloupe/polygon_ops.h"
#include "sheetloupe/usable_build.h"

namespace sheetloupe {
namespace {

// A contour runs through pixel centres; those lie half a pixel inside the pixel's outer corner.
Ring ring_from_contour(const std::vector<cv::Point>& contour, double mm_per_px, SheetPoint origin) {
  Ring ring;
  ring.reserve(contour.size());
  for (const cv::Point& p : contour) {
    ring.push_back({origin.x + (p.x + 0.5) * mm_per_px, origin.y + (p.y + 0.5) * mm_per_px});
  }
  return ring;
}

template <class Turn>
Polygon turned_polygon(const Polygon& polygon, Turn turn) {
  Polygon result = polygon;
  for (SheetPoint& p : result.outer) p = turn(p);
  for (Ring& hole : result.holes) {
    for (SheetPoint& p : hole) p = turn(p);
  }
  return result;
}

MapFeature area_feature(FeatureKind kind, Polygon polygon, const std::string& face) {
  MapFeature feature;
  feature.kind = kind;
  feature.polygon = std::move(polygon);
  feature.face = face;
  return feature;
}

// A ring keeps clear of the outline and of as far as its border may be off.
Polygon kept_clear_of(const Defect& defect) {
  constexpr double kToleranceMm = 0.05;
  Polygon outline{defect.polygon, {}};
  if (defect.keep_clear.value() <= 0) return outline;
  const Region grown = simplify(grow({outline}, defect.keep_clear.value()), kToleranceMm);
  return grown.size() == 1 ? grown.front() : outline;
}

template <class Turn>
MapFeature defect_feature(const Defect& defect, const std::string& face, Turn turn) {
  MapFeature feature = area_feature(FeatureKind::defect, {}, face);
  feature.defect = name_of(defect.kind);
  feature.id = defect.id;
  feature.area_mm2 = defect.area_mm2;
  if (defect.kind == DefectLabel::pinhole) {
    feature.point = Circle{turn(defect.centre), defect.max_diameter / 2.0};
  } else {
    feature.polygon = turned_polygon(kept_clear_of(defect), turn);
  }
  return feature;
}

template <class Turn>
void add_face(UsableMap& map, const FaceFindings& face, Turn turn) {
  for (const Defect& defect : face.defects.items) map.features.push_back(defect_feature(defect, face.role, turn));
  for (const Defect& suspect : face.defects.suspects) {
    map.features.push_back(defect_feature(suspect, face.role, turn));
    map.features.back().defect = "suspect";
  }
  for (const WeaveZone& zone : face.weave_zones) {
    map.features.push_back(area_feature(FeatureKind::weave_zone, turned_polygon(zone.polygon, turn), face.role));
  }
  const DefectAnalysis& d = face.defects;
  for (const Polygon& hidden : polygons_of_label(d.labels, DefectLabel::not_judged, d.mm_per_px, d.origin)) {
    map.features.push_back(area_feature(FeatureKind::not_judged, turned_polygon(hidden, turn), face.role));
  }
}

}  // namespace

SheetPoint front_from_back(SheetPoint back, const FaceFindings& front_face, const FaceFindings& back_face,
                           Turned turned) {
  const double x = back.x - back_face.width_mm / 2.0, y = back.y - back_face.height_mm / 2.0;
  const double flip = turned == Turned::left_right ? -1.0 : 1.0;
  return {front_face.width_mm / 2.0 + flip * x, front_face.height_mm / 2.0 - flip * y};
}

std::vector<Polygon> polygons_of_label(const cv::Mat& labels, DefectLabel label, double mm_per_px, SheetPoint origin) {
  if (labels.empty()) return {};
  cv::Mat mask;
  cv::copyMakeBorder(labels == static_cast<int>(label), mask, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::dilate(mask, mask, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));
  const SheetPoint corner{origin.x - mm_per_px, origin.y - mm_per_px};
  std::vector<std::vector<cv::Point>> contours;
  std::vector<cv::Vec4i> tree;  // next, previous, first child, parent
  cv::findContours(mask, contours, tree, cv::RETR_CCOMP, cv::CHAIN_APPROX_SIMPLE);
  std::vector<Polygon> polygons;
  for (std::size_t i = 0; i < contours.size(); ++i) {
    if (tree[i][3] >= 0 || contours[i].size() < 3) continue;
    Polygon polygon{ring_from_contour(contours[i], mm_per_px, corner), {}};
    for (int hole = tree[i][2]; hole >= 0; hole = tree[hole][0]) {
      if (contours[hole].size() >= 3) polygon.holes.push_back(ring_from_contour(contours[hole], mm_per_px, corner));
    }
    polygons.push_back(std::move(polygon));
  }
  return polygons;
}

UsableMap build_usable_map(const std::vector<FaceFindings>& faces, Turned turned, double position_u95_mm,
                           const std::string& sheet_id, std::optional<double> thickness_mm,
                           const std::vector<ThinZone>& thin_zones) {
  UsableMap map;
  map.sheet_id = sheet_id;
  map.thickness_mm = thickness_mm;
  map.position_u95_mm = position_u95_mm;
  if (faces.empty()) return map;
  map.features.push_back(area_feature(FeatureKind::outline, {faces.front().outline, {}}, ""));
  for (const FaceFindings& face : faces) {
    if (face.role == "back") {
      add_face(map, face, [&](SheetPoint p) { return front_from_back(p, faces.front(), face, turned); });
    } else {
      add_face(map, face, [](SheetPoint p) { return p; });
    }
  }
  for (const ThinZone& zone : thin_zones) {
    MapFeature feature = area_feature(FeatureKind::thin_zone, zone.polygon, "");
    feature.thickness_mm = zone.thickness_mm;
    map.features.push_back(std::move(feature));
  }
  return map;
}

}  // namespace sheetloupe
