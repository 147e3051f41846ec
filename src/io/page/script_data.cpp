// What the script reads: shapes to name under the pointer and the weave's coarse grid.
#include "io/page/facts.h"

namespace sheetloupe::page {
namespace {

Json defect_data(const Json& properties, const Json& geometry) {
  const std::string kind = kind_words(text_of(properties, "defect"));
  Json item = {{"id", at(properties, {"id"})}, {"n", sentence(kind)}, {"s", at(properties, {"face"})}};
  if (geometry["type"] == "Point") {
    item["x"] = geometry["coordinates"][0];
    item["y"] = geometry["coordinates"][1];
    item["d"] = number_of(at(properties, {"diameter_mm"}));
  } else {
    item["p"] = geometry["coordinates"];
  }
  return item;
}

std::string area_name(const Json& properties) {
  const std::string kind = text_of(properties, "kind"), face = text_of(properties, "face");
  const std::string where = face.empty() ? "" : ", " + face;
  if (kind == "weave_zone") return "Weave out of square" + where;
  if (kind == "not_judged") return "Not judged" + where;
  if (kind == "taken") return "Already cut";
  const Json& thickness = at(properties, {"thickness_mm"});
  return "Thin" + (thickness.is_number() ? ", " + number(thickness, 1) + " mm" : "");
}

Json grid_data(const Json& weave) {
  const Json& r = at(weave, {"reading"});
  if (!r.is_object()) return nullptr;
  return {{"x", r["origin_mm"][0]},     {"y", r["origin_mm"][1]},
          {"step", r["step_mm"]},       {"columns", r["columns"]},
          {"rows", r["rows"]},          {"warp", r["warp_turn_deg"]},
          {"weft", r["weft_turn_deg"]}, {"u95", number_of(at(weave, {"local_u95_deg"}))}};
}

}  // namespace

Json script_data(const Model& m) {
  Json data = {{"w", 0},         {"h", 0}, {"f", Json::array()}, {"areas", Json::array()}, {"b", Json::array()},
               {"grid", nullptr}};
  const Json* front = face_of(m.report, "front");
  if (!in_mm(front) || !m.usable.is_object()) return data;
  data["w"] = number_of(at(*front, {"outline", "width_mm"}));
  data["h"] = number_of(at(*front, {"outline", "height_mm"}));
  for (const Json& feature : list_at(m.usable, "features")) {
    const Json& properties = feature["properties"];
    const std::string kind = text_of(properties, "kind");
    const Json& geometry = feature["geometry"];
    if (kind == "outline") data["outline"] = geometry["coordinates"];
    if (kind == "defect") data["f"].push_back(defect_data(properties, geometry));
    if ((kind == "weave_zone" || kind == "thin_zone" || kind == "not_judged" || kind == "taken") &&
        geometry["type"] == "Polygon")
      data["areas"].push_back({{"n", area_name(properties)}, {"p", geometry["coordinates"]}});
  }
  for (const Json& b : list_at(m.blanks, "blanks")) {
    data["b"].push_back({short_id(at(b, {"id"}).get<std::string>()), b["centre_mm"][0], b["centre_mm"][1],
                         number_of(at(b, {"saw_outer_mm"})), number_of(at(b, {"kerf_mm"})),
                         number_of(at(b, {"inner_diameter_mm"})), number_of(at(b, {"outer_diameter_mm"}))});
  }
  data["grid"] = grid_data(at(*front, {"weave"}));
  return data;
}

}  // namespace sheetloupe::page
