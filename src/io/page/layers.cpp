#include "io/page/layers.h"

#include <cstdio>

#include "io/page/facts.h"
#include "io/page/marks.h"
#include "io/page/turn_map.h"

namespace sheetloupe::page {
namespace {

std::string at_mm(double x, double y) {
  char buffer[64];
  std::snprintf(buffer, sizeof buffer, "%.2f %.2f", x, y);
  return buffer;
}

std::string layer_of(const Json& properties) {
  const std::string kind = text_of(properties, "kind");
  if (kind == "defect") return layer_of_defect(text_of(properties, "defect"));
  if (kind == "weave_zone") return "weave";
  if (kind == "thin_zone") return "thin";
  if (kind == "usable") return "use";
  return kind == "not_judged" ? "unj" : "";
}

std::string label_of(const Json& properties) {
  const Json& thickness = at(properties, {"thickness_mm"});
  return thickness.is_number() ? number(thickness, 1) : text_of(properties, "id");
}

std::string shape(const Json& feature, const std::string& layer) {
  const Json& geometry = feature["geometry"];
  const std::string id = text_of(feature["properties"], "id");
  const bool suspect = layer == "odd";
  const std::string tag = id.empty() ? "" : " data-id=\"" + id + "\"";
  if (geometry["type"] == "Point" && suspect)
    return sized(geometry["coordinates"][0], geometry["coordinates"][1],
                 "<circle class=\"case\" r=\"5\"/><circle class=\"m odd\" r=\"5\"/><text class=\"lbl i\" y=\"-9\">" +
                     id + "</text>",
                 tag);
  if (geometry["type"] == "Point") {
    return sized(geometry["coordinates"][0], geometry["coordinates"][1],
                 "<circle class=\"case\" r=\"6\"/><circle class=\"m pin\" r=\"6\"/><circle class=\"pin-dot\" "
                 "r=\"1.5\"/><circle class=\"hit\" r=\"12\"/>",
                 tag);
  }
  const std::string d = path_of(geometry["coordinates"]);
  std::string html = "<g" + tag + "><path class=\"case\" d=\"" + d + "\"/><path class=\"m " + layer +
                     "\" fill-rule=\"evenodd\" d=\"" + d + "\"/>";
  const std::string label = label_of(feature["properties"]);
  if (!label.empty()) {
    double x = 0, top = 1e9;  // above the highest corner
    for (const Json& p : geometry["coordinates"][0]) {
      if (p[1].get<double>() >= top) continue;
      x = p[0];
      top = p[1];
    }
    // Suspects are many, small and in no table: named only when one looks closely.
    html +=
        sized(x, top, std::string("<text class=\"lbl") + (suspect ? " i" : "") + "\" y=\"-6\">" + label + "</text>");
  }
  return html + "</g>";
}

std::string ring_path(double outer, double inner) {
  char buffer[300];
  std::snprintf(buffer, sizeof buffer,
                "<path class=\"ring\" fill-rule=\"evenodd\" d=\"M%.3f 0A%.3f %.3f 0 1 0 %.3f 0A%.3f %.3f 0 1 0 %.3f "
                "0ZM%.3f 0A%.3f %.3f 0 1 0 %.3f 0A%.3f %.3f 0 1 0 %.3f 0Z\"/>",
                outer, outer, outer, -outer, outer, outer, outer, inner, inner, inner, -inner, inner, inner, inner);
  return buffer;
}

// Saw line, kerf as a dark band, ring as a pale band, the core open with a broken cross.
std::string blank_shape(const Json& b) {
  const double x = b["centre_mm"][0], y = b["centre_mm"][1], saw = number_of(at(b, {"saw_outer_mm"})) / 2,
               kerf = number_of(at(b, {"kerf_mm"}));
  const double inner = number_of(at(b, {"inner_diameter_mm"})) / 2, outer = number_of(at(b, {"outer_diameter_mm"})) / 2;
  char buffer[500];
  std::snprintf(buffer, sizeof buffer,
                "<circle class=\"kerf\" r=\"%.3f\" stroke-width=\"%.3f\"/><circle class=\"saw\" r=\"%.3f\"/><circle "
                "class=\"saw i\" r=\"%.3f\"/>",
                saw - kerf / 2, kerf, saw, saw - kerf);
  std::string drawing = buffer;
  if (outer > inner && inner > 2) {
    const double a = inner - 0.3, c = inner - 2.6;
    drawing += ring_path(outer, inner);
    std::snprintf(buffer, sizeof buffer,
                  "<path class=\"saw\" d=\"M%.2f 0L%.2f 0M%.2f 0L%.2f 0M0 %.2fL0 %.2fM0 %.2fL0 %.2f\"/>", a, c, -a, -c,
                  a, c, -a, -c);
    drawing += buffer;
  }
  const std::string id = text_of(b, "id");
  return "<g data-id=\"" + id + "\"><g transform=\"translate(" + at_mm(x, y) + ")\">" + drawing + "</g>" +
         sized(x, y, "<text class=\"num\" y=\"4.3\">" + escaped(short_id(id)) + "</text>") + "</g>";
}

std::string image(const Picture& picture, const Json& flat, const std::string& transform) {
  const double step = number_of(at(flat, {"mm_per_px"}));
  if (picture.jpeg.empty() || !(step > 0) || list_at(flat, "origin_mm").size() != 2) return "";
  char place[300];
  std::snprintf(place, sizeof place,
                "<image x=\"%.3f\" y=\"%.3f\" width=\"%.3f\" height=\"%.3f\" preserveAspectRatio=\"none\" ",
                flat["origin_mm"][0].get<double>(), flat["origin_mm"][1].get<double>(), picture.columns * step,
                picture.rows * step);
  return place + transform + "href=\"data:image/jpeg;base64," + base64(picture.jpeg) + "\"/>";
}

// The back as one would see it through the sheet: mirrored about the axis that the sheet was turned over.
std::string mirrored(const Json& front, const Json& back, bool left_right) {
  const double fw = number_of(at(front, {"outline", "width_mm"})), fh = number_of(at(front, {"outline", "height_mm"})),
               bw = number_of(at(back, {"outline", "width_mm"})), bh = number_of(at(back, {"outline", "height_mm"}));
  char text[160];
  if (left_right)
    std::snprintf(text, sizeof text, "transform=\"translate(%.3f %.3f) scale(-1 1)\" ", (fw + bw) / 2, (fh - bh) / 2);
  else
    std::snprintf(text, sizeof text, "transform=\"translate(%.3f %.3f) scale(1 -1)\" ", (fw - bw) / 2, (fh + bh) / 2);
  return text;
}

void add_photos(const Model& m, std::map<std::string, Layer>& layers) {
  const Json &front = *face_of(m.report, "front"), *back = face_of(m.report, "back");
  layers["photo"].things = 1;
  if (const auto it = m.pictures.find("front_flat"); it != m.pictures.end())
    layers["photo"].shapes = image(it->second, at(front, {"flat_picture"}), "");
  const auto it = m.pictures.find("back_flat");
  if (!in_mm(back) || it == m.pictures.end()) return;
  layers["back"] = {image(it->second, at(*back, {"flat_picture"}),
                          mirrored(front, *back, at(m.report, {"sheet", "turned"}) != "top-bottom")),
                    "", 1};
}

}  // namespace

std::string sized(double x, double y, const std::string& inner, const std::string& attributes) {
  return "<g" + attributes + " data-s=\"" + at_mm(x, y) + "\" transform=\"translate(" + at_mm(x, y) + ")\">" + inner +
         "</g>";
}

std::string outline_path(const Model& m) {
  std::string path;
  for (const Json& feature : list_at(m.usable, "features")) {
    if (at(feature, {"properties", "kind"}) == "outline") path += path_of(feature["geometry"]["coordinates"]);
  }
  return path;
}

std::map<std::string, Layer> layers_of(const Model& m) {
  std::map<std::string, Layer> layers;
  add_photos(m, layers);
  for (const Json& feature : list_at(m.usable, "features")) {
    const std::string key = layer_of(feature["properties"]);
    if (key.empty()) continue;
    layers[key].shapes += shape(feature, key);
    layers[key].count = std::to_string(++layers[key].things);
  }
  for (const Json& b : list_at(m.blanks, "blanks")) {
    layers["blank"].shapes += blank_shape(b);
    layers["blank"].count = std::to_string(++layers["blank"].things);
  }
  const double whole = outline_area_mm2(m);
  if (layers.contains("weave") && whole > 0)
    layers["weave"].count = number(100 * zone_area_mm2(m, "weave_zone") / whole, 1) + " %";
  if (layers.contains("unj")) layers["unj"].count = number(zone_area_mm2(m, "not_judged") / 100, 1) + " cm\u00b2";
  if (layers.contains("use"))
    layers["use"].count = number(100 * number_of(at(m.report, {"usable", "fraction"})), 1) + " %";
  const Json& weave = at(*face_of(m.report, "front"), {"weave"});
  const std::string map = turn_map(at(weave, {"reading"}));
  if (!map.empty()) {
    layers["map"] = {map, "", 1};
    layers["tow"] = {tow_lines(weave), "", 1};
  }
  return layers;
}

}  // namespace sheetloupe::page
