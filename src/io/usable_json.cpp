#include "sheetloupe/io/usable_json.h"

#include <array>
#include <utility>

#include "io/report/json_figures.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/strict_json.h"

namespace sheetloupe {
namespace {

constexpr std::array<std::pair<FeatureKind, const char*>, 7> kKinds = {{{FeatureKind::outline, "outline"},
                                                                        {FeatureKind::usable, "usable"},
                                                                        {FeatureKind::defect, "defect"},
                                                                        {FeatureKind::weave_zone, "weave_zone"},
                                                                        {FeatureKind::thin_zone, "thin_zone"},
                                                                        {FeatureKind::not_judged, "not_judged"},
                                                                        {FeatureKind::taken, "taken"}}};

const char* name_of(FeatureKind kind) {
  for (const auto& [k, name] : kKinds) {
    if (k == kind) return name;
  }
  return "";
}

// GeoJSON rings repeat their first point at the end.
Json ring_json(const Ring& ring) {
  Json list = points_json(ring);
  if (!ring.empty()) list.push_back(point_json(ring.front()));
  return list;
}

Json feature_json(const MapFeature& feature) {
  Json properties = {{"kind", name_of(feature.kind)}};
  if (!feature.defect.empty()) properties["defect"] = feature.defect;
  if (!feature.face.empty()) properties["face"] = feature.face;
  if (!feature.id.empty()) properties["id"] = feature.id;
  if (feature.area_mm2) properties["area_mm2"] = figure(*feature.area_mm2, 3);
  if (feature.thickness_mm) properties["thickness_mm"] = figure(*feature.thickness_mm, 3);
  Json geometry;
  if (feature.point) {
    properties["diameter_mm"] = figure(2 * feature.point->radius.value(), 3);
    geometry = {{"type", "Point"}, {"coordinates", point_json(feature.point->centre)}};
  } else {
    Json rings = Json::array({ring_json(feature.polygon.outer)});
    for (const Ring& hole : feature.polygon.holes) rings.push_back(ring_json(hole));
    geometry = {{"type", "Polygon"}, {"coordinates", rings}};
  }
  return {{"type", "Feature"}, {"properties", properties}, {"geometry", geometry}};
}

SheetPoint parse_point(const Json& json, const std::string& where) {
  const bool good = json.is_array() && json.size() >= 2 && json[0].is_number() && json[1].is_number();
  // Beyond ten metres the coordinates are not mm on a sheet.
  constexpr double kFarthest = 10000.0;
  if (good) {
    const SheetPoint p{json[0].get<double>(), json[1].get<double>()};
    if (std::abs(p.x) <= kFarthest && std::abs(p.y) <= kFarthest) return p;
  }
  throw InputError(
      {"a coordinate is wrong", where, json.dump().substr(0, 60), "[x, y] in mm, within 10 m", "Correct it"});
}

Ring parse_ring(const Json& json, const std::string& where) {
  if (!json.is_array() || json.size() < 4) {
    throw InputError({"a ring is too short", where,
                      json.is_array() ? std::to_string(json.size()) + " points" : json.dump().substr(0, 60),
                      "at least 4 points, the last like the first", "Close the ring"});
  }
  Ring ring;
  for (const Json& point : json) ring.push_back(parse_point(point, where));
  if (distance_mm(ring.front(), ring.back()) > 1e-6) {
    throw InputError(
        {"a ring is not closed", where, "", "the last point like the first", "Repeat the first point at the end"});
  }
  ring.pop_back();
  return ring;
}

// Adds the geometry; a MultiPolygon becomes several features of the same properties.
void parse_geometry(const JsonReader& geometry, const MapFeature& like, UsableMap& map,
                    std::optional<double> diameter) {
  const std::string type = geometry.choice("type", {"Polygon", "MultiPolygon", "Point"}).value_or("");
  if (type.empty()) geometry.fail("type", "Polygon, MultiPolygon or Point");
  if (!geometry.has("coordinates")) geometry.fail("coordinates", "a list");
  const Json& coordinates = geometry.json()["coordinates"];
  const auto add_polygon = [&](const Json& rings) {
    if (!rings.is_array() || rings.empty()) geometry.fail("coordinates", "a list of rings");
    MapFeature feature = like;
    feature.polygon.outer = parse_ring(rings[0], geometry.where());
    for (std::size_t i = 1; i < rings.size(); ++i)
      feature.polygon.holes.push_back(parse_ring(rings[i], geometry.where()));
    map.features.push_back(std::move(feature));
  };
  if (type == "Polygon") {
    add_polygon(coordinates);
  } else if (type == "MultiPolygon") {
    if (!coordinates.is_array()) geometry.fail("coordinates", "a list of polygons");
    for (const Json& polygon : coordinates) add_polygon(polygon);
  } else {
    if (like.kind != FeatureKind::defect) geometry.fail("type", "Polygon: only a defect may be a point");
    MapFeature feature = like;
    feature.point = Circle{parse_point(coordinates, geometry.where()), Mm(diameter.value_or(0.0) / 2)};
    map.features.push_back(std::move(feature));
  }
}

void parse_feature(const JsonReader& r, UsableMap& map) {
  r.only({"type", "id", "properties", "geometry", "bbox"});
  const auto properties = r.object("properties");
  const auto geometry = r.object("geometry");
  if (!properties) r.fail("properties", "an object with \"kind\"");
  if (!geometry) r.fail("geometry", "an object with \"type\" and \"coordinates\"");
  MapFeature feature;
  const auto kind =
      properties->choice("kind", {"outline", "usable", "defect", "weave_zone", "thin_zone", "not_judged", "taken"});
  if (!kind) properties->fail("kind", "outline, usable, defect, weave_zone, thin_zone, not_judged or taken");
  for (const auto& [k, name] : kKinds) {
    if (*kind == name) feature.kind = k;
  }
  feature.defect = properties->text("defect").value_or("");
  feature.face = properties->choice("face", {"front", "back"}).value_or("");
  feature.id = properties->text("id").value_or("");
  feature.area_mm2 = properties->number("area_mm2", 0, 1e9);
  feature.thickness_mm = properties->number("thickness_mm", 0, 1000);
  if (feature.kind == FeatureKind::thin_zone && !feature.thickness_mm)
    properties->fail("thickness_mm", "the zone's thickness");
  parse_geometry(*geometry, feature, map, properties->number("diameter_mm", 0, 1000));
}

}  // namespace

Json usable_map_to_json(const UsableMap& map) {
  Json json = {{"type", "FeatureCollection"}, {"schema_version", 1}, {"unit", "mm"}, {"frame", "sheet"}};
  json["position_u95_mm"] = figure(map.position_u95_mm, 3);
  json["sheet"] = {{"id", map.sheet_id},
                   {"thickness_mm", map.thickness_mm ? figure(*map.thickness_mm, 3) : Json(nullptr)}};
  json["features"] = Json::array();
  for (const MapFeature& feature : map.features) json["features"].push_back(feature_json(feature));
  return json;
}

UsableMap parse_usable_map(std::string_view text, const std::string& where) {
  const Json json = parse_json(text, where);
  const JsonReader r(json, where);
  r.only({"type", "schema_version", "unit", "frame", "position_u95_mm", "sheet", "features", "bbox", "name"});
  r.schema_version(1);
  if (!r.choice("type", {"FeatureCollection"})) r.fail("type", "FeatureCollection");
  r.choice("unit", {"mm"});
  r.choice("frame", {"sheet"});
  UsableMap map;
  map.position_u95_mm = r.number("position_u95_mm", 0, 100).value_or(0.0);
  if (const auto sheet = r.object("sheet")) {
    map.sheet_id = sheet->text("id").value_or("");
    map.thickness_mm = sheet->positive("thickness_mm", 1000);
  }
  for (const JsonReader& feature : r.list("features")) parse_feature(feature, map);
  return map;
}

UsableMap read_usable_map(const std::filesystem::path& path) {
  return parse_usable_map(read_file(path, std::size_t{256} << 20U), path.string());
}

}  // namespace sheetloupe
