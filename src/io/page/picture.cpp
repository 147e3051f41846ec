// The plate: the flat front picture with its layers, rulers and reading dial, and the key that switches them.
#include <cstdio>
#include <map>

#include "io/page/sections.h"

namespace sheetloupe::page {
namespace {

struct Layer {
  const char* key;  // data-l
  const char* name;
  const char* swatch;  // inside a 40 x 26 box
};

constexpr Layer kLayers[] = {
    {"photo", "Photo", "<rect width=\"40\" height=\"26\" fill=\"#3a3f40\"/>"},
    {"blank", "Ring blank",
     "<circle class=\"saw\" cx=\"20\" cy=\"13\" r=\"10\"/><circle cx=\"20\" cy=\"13\" r=\"7\" fill=\"none\" "
     "stroke=\"#fff\" stroke-opacity=\".62\" stroke-width=\"3\"/>"},
    {"dry", "Dry spot", "<ellipse class=\"m dry\" cx=\"20\" cy=\"13\" rx=\"12\" ry=\"7\"/>"},
    {"pin", "Pinhole",
     "<circle class=\"m pin\" cx=\"20\" cy=\"13\" r=\"6\"/><circle class=\"pin-dot\" cx=\"20\" cy=\"13\" r=\"1.5\"/>"},
    {"resin", "Resin-rich", "<ellipse class=\"m resin\" cx=\"20\" cy=\"13\" rx=\"12\" ry=\"7\"/>"},
    {"weave", "Weave zone", "<rect class=\"m weave\" x=\"7\" y=\"5\" width=\"26\" height=\"16\"/>"},
    {"thin", "Thin zone", "<rect class=\"m thin\" x=\"7\" y=\"5\" width=\"26\" height=\"16\"/>"},
    {"unj", "Not judged", "<rect class=\"m unj\" x=\"7\" y=\"5\" width=\"26\" height=\"16\"/>"},
};

constexpr const char* kPatterns =
    "<pattern id=\"p-dry\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\"><circle cx=\"2.5\" cy=\"2.5\" "
    "r=\"1\" fill=\"#e69f00\"/></pattern>"
    "<pattern id=\"p-resin\" width=\"10\" height=\"5\" patternUnits=\"userSpaceOnUse\"><path d=\"M0 2.5H10\" "
    "stroke=\"#56b4e9\" stroke-width=\"1.2\"/></pattern>"
    "<pattern id=\"p-unj\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\" data-t=\"rotate(45)\"><rect "
    "width=\"9\" height=\"9\" fill=\"#000\" fill-opacity=\".45\"/><path d=\"M0 4.5H9\" stroke=\"#fff\" "
    "stroke-width=\"1.1\"/></pattern>"
    "<pattern id=\"p-weave\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\" data-t=\"skewX(-24)\"><path "
    "d=\"M0 4.5H9M4.5 0V9\" stroke=\"#cc79a7\" stroke-opacity=\".75\" stroke-width=\"1\"/></pattern>"
    "<pattern id=\"p-thin\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\"><rect width=\"9\" height=\"9\" "
    "fill=\"#000\" fill-opacity=\".25\"/></pattern>";

std::string at(double x, double y) {
  char buffer[64];
  std::snprintf(buffer, sizeof buffer, "%.2f %.2f", x, y);
  return buffer;
}

// A group that keeps its size at any zoom; the script scales it.
std::string sized(double x, double y, const std::string& inner, const std::string& more = "") {
  return "<g " + more + "data-s=\"" + at(x, y) + "\" transform=\"translate(" + at(x, y) + ")\">" + inner + "</g>";
}

std::string layer_of(const Json& properties) {
  const std::string kind = properties.value("kind", ""), defect = properties.value("defect", "");
  if (kind == "defect") return defect == "dry_spot" ? "dry" : defect == "pinhole" ? "pin" : "resin";
  if (kind == "weave_zone") return "weave";
  if (kind == "thin_zone") return "thin";
  return kind == "not_judged" ? "unj" : "";
}

std::string shape(const Json& feature, const std::string& layer) {
  const Json& geometry = feature["geometry"];
  const std::string id = escaped(feature["properties"].value("id", ""));
  if (geometry["type"] == "Point") {
    const double x = geometry["coordinates"][0], y = geometry["coordinates"][1];
    return sized(x, y,
                 "<circle class=\"case\" r=\"6\"/><circle class=\"m pin\" r=\"6\"/><circle class=\"pin-dot\" "
                 "r=\"1.5\"/><circle class=\"hit\" r=\"12\"/>",
                 "data-id=\"" + id + "\" ");
  }
  const std::string d = path_of(geometry["coordinates"]);
  std::string html = "<g data-id=\"" + id + "\"><path class=\"case\" d=\"" + d + "\"/><path class=\"m " + layer +
                     "\" fill-rule=\"evenodd\" d=\"" + d + "\"/>";
  if (!id.empty()) {
    const Json& p = geometry["coordinates"][0][0];
    html += sized(p[0], p[1], "<text class=\"lbl\" y=\"-6\">" + id + "</text>");
  }
  return html + "</g>";
}

std::string blank_shape(const Json& b) {
  const double x = b["centre_mm"][0], y = b["centre_mm"][1], saw = b.value("saw_outer_mm", 0.0) / 2,
               kerf = b.value("kerf_mm", 0.0);
  const double inner = b.value("inner_diameter_mm", 0.0) / 2, outer = b.value("outer_diameter_mm", 0.0) / 2;
  const std::string id = escaped(b.value("id", ""));
  const std::size_t dash = id.rfind('-');
  char buffer[400];
  std::snprintf(buffer, sizeof buffer, "<circle class=\"saw\" r=\"%.3f\"/><circle class=\"saw i\" r=\"%.3f\"/>", saw,
                saw - kerf);
  std::string ring = buffer;
  if (outer > inner && inner > 0) {
    std::snprintf(buffer, sizeof buffer,
                  "<path class=\"ring\" fill-rule=\"evenodd\" d=\"M%.3f 0A%.3f %.3f 0 1 0 %.3f 0A%.3f %.3f 0 1 0 %.3f "
                  "0ZM%.3f 0A%.3f %.3f 0 1 0 %.3f 0A%.3f %.3f 0 1 0 %.3f 0Z\"/>",
                  outer, outer, outer, -outer, outer, outer, outer, inner, inner, inner, -inner, inner, inner, inner);
    ring += buffer;
  }
  return "<g data-id=\"" + id + "\"><g transform=\"translate(" + at(x, y) + ")\">" + ring + "</g>" +
         sized(x, y,
               "<text class=\"num\" y=\"4.3\">" + (dash == std::string::npos ? id : id.substr(dash + 1)) + "</text>") +
         "</g>";
}

}  // namespace

std::string picture(const Model& m, const std::string& jpeg) {
  const Json* front = face_of(m.report, "front");
  if (!front || front->value("status", "") != "measured" || !m.usable.is_object()) {
    return "<section class=\"keep\" id=\"face\" aria-labelledby=\"h-face\"><h2 id=\"h-face\">Front face <span>no "
           "picture in mm</span></h2><div class=\"none\"><h3>Cannot tell</h3><p>Without a length standard nothing is "
           "drawn in millimetres. Print the strips (sheetloupe strips), or measure the four sides and a "
           "diagonal.</p></div></section>\n";
  }
  std::map<std::string, std::string> shapes;
  std::map<std::string, int> count;
  std::string outline;
  for (const Json& feature : m.usable["features"]) {
    const std::string layer = layer_of(feature["properties"]);
    if (feature["properties"].value("kind", "") == "outline") outline = path_of(feature["geometry"]["coordinates"]);
    if (layer.empty()) continue;
    shapes[layer] += shape(feature, layer);
    ++count[layer];
  }
  if (m.blanks.is_object()) {
    for (const Json& b : m.blanks.value("blanks", Json::array())) {
      shapes["blank"] += blank_shape(b);
      ++count["blank"];
    }
  }
  const double w = (*front)["outline"]["width_mm"], h = (*front)["outline"]["height_mm"];
  const Json& flat = (*front)["flat_picture"];
  char box[160];
  std::snprintf(box, sizeof box, "-3 -3 %.3f %.3f", w + 6, h + 6);
  std::string html =
      "<section id=\"face\" aria-labelledby=\"h-face\">\n<h2 id=\"h-face\">Front face <span>what was found, and where; "
      "the back's finds are mirrored onto it</span></h2>\n<div class=\"plate\" style=\"--shape:" +
      number(w + 6, 1) + "/" + number(h + 6, 1) +
      "\">\n<figure class=\"bench\">\n<div class=\"tools noprint\" role=\"group\" aria-label=\"Picture\"><button "
      "type=\"button\" id=\"zin\" aria-label=\"Closer\">+</button><button type=\"button\" id=\"zout\" "
      "aria-label=\"Farther\">&minus;</button><button type=\"button\" id=\"zfit\">Fit</button><span class=\"s\">Point "
      "or tap to read. Arrow keys step 1 mm, with Shift 10 mm.</span></div>\n"
      "<div class=\"frame\"><svg id=\"rx\" class=\"ruler\" height=\"26\" aria-hidden=\"true\"></svg><svg id=\"ry\" "
      "class=\"ruler\" width=\"34\" aria-hidden=\"true\"></svg>\n<div id=\"view\" tabindex=\"0\" role=\"group\" "
      "aria-roledescription=\"picture to read\" aria-label=\"Front face, " +
      number(w, 0) + " by " + number(h, 0) +
      " millimetres. Arrow keys move the reading point. Plus and minus zoom, 0 fits.\" "
      "aria-describedby=\"d-here\">\n<svg id=\"sv\" viewBox=\"" +
      box + "\" preserveAspectRatio=\"xMidYMid meet\" aria-hidden=\"true\"><defs>" + kPatterns + "</defs>\n";
  html += "<g class=\"L\" data-l=\"photo\">";
  if (!jpeg.empty() && flat.is_object()) {
    char place[200];
    std::snprintf(place, sizeof place,
                  "<image x=\"%.3f\" y=\"%.3f\" width=\"%.3f\" height=\"%.3f\" preserveAspectRatio=\"none\" "
                  "href=\"data:image/jpeg;base64,",
                  flat["origin_mm"][0].get<double>(), flat["origin_mm"][1].get<double>(), w, h);
    html += std::string(place) + base64(jpeg) + "\"/>";
  }
  html += "</g>\n";
  for (const Layer& layer : kLayers) {
    if (std::string(layer.key) != "photo")
      html += std::string("<g class=\"L\" data-l=\"") + layer.key + "\">" + shapes[layer.key] + "</g>\n";
  }
  html += "<g class=\"L\"><path d=\"" + outline +
          "\" fill=\"none\" stroke=\"#fff\" stroke-opacity=\".5\" stroke-width=\"1\"/><path class=\"datum\" d=\"M-1.2 "
          "40V-1.2H40\"/>" +
          sized(0, 0, "<path d=\"M-3 -3H17L-3 17Z\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.5\"/>") +
          "</g>\n<g class=\"L noprint\" id=\"cross\" style=\"display:none\"><path class=\"hair0\" d=\"\"/><path "
          "class=\"hair1\" d=\"\"/></g>\n</svg></div></div>\n<div class=\"dial noprint\"><div><span>x</span><output "
          "id=\"d-x\">\u2013</output></div><div><span>y</span><output id=\"d-y\">\u2013</output></div><div><span>Warp "
          "turns</span><output id=\"d-w\">\u2013</output></div><div><span>Weft turns</span><output "
          "id=\"d-f\">\u2013</output></div><div class=\"wide\"><span>Here</span><output id=\"d-here\" "
          "aria-live=\"polite\">Tap or point at the sheet to read it.</output></div></div>\n"
          "<figcaption class=\"s\">x and y run from the datum corner, top left. The photo has been laid flat to "
          "scale.</figcaption>\n</figure>\n<div class=\"side\"><ul class=\"key\" aria-label=\"Key. Each line shows or "
          "hides one layer.\">\n";
  for (const Layer& layer : kLayers) {
    const bool photo = std::string(layer.key) == "photo";
    if (!photo && count[layer.key] == 0) continue;
    html += std::string("<li><label><input type=\"checkbox\" value=\"") + layer.key +
            "\" checked><svg viewBox=\"0 0 40 26\" aria-hidden=\"true\"><g class=\"L\">" + layer.swatch +
            "</g></svg><span>" + layer.name + "</span><span class=\"c\">" +
            (photo ? "" : std::to_string(count[layer.key])) + "</span></label></li>\n";
  }
  return html +
         "</ul><p class=\"s\" style=\"margin-top:12px\">A ring is cut from the pale band only. Its core is drilled "
         "away and the saw's cut goes to sawdust, so a defect there does no harm.</p></div>\n</div>\n</section>\n";
}

Json script_data(const Model& m) {
  Json data = {{"w", 0},         {"h", 0}, {"f", Json::array()}, {"areas", Json::array()}, {"b", Json::array()},
               {"grid", nullptr}};
  const Json* front = face_of(m.report, "front");
  if (!front || front->value("status", "") != "measured" || !m.usable.is_object()) return data;
  data["w"] = (*front)["outline"]["width_mm"];
  data["h"] = (*front)["outline"]["height_mm"];
  for (const Json& feature : m.usable["features"]) {
    const Json& p = feature["properties"];
    const std::string kind = p.value("kind", "");
    const Json& g = feature["geometry"];
    if (kind == "defect") {
      const std::string defect = p.value("defect", "");
      const char* name = defect == "dry_spot" ? "Dry spot" : defect == "pinhole" ? "Pinhole" : "Resin-rich";
      Json item = {{"id", p.value("id", "")}, {"n", name}, {"s", p.value("face", "")}};
      if (g["type"] == "Point") {
        item["x"] = g["coordinates"][0];
        item["y"] = g["coordinates"][1];
        item["d"] = p.value("diameter_mm", 0.0);
      } else {
        item["p"] = g["coordinates"][0];
      }
      data["f"].push_back(item);
    } else if (kind == "weave_zone" || kind == "thin_zone" || kind == "not_judged") {
      data["areas"].push_back({{"n", kind == "weave_zone"  ? "Weave zone"
                                     : kind == "thin_zone" ? "Thin zone"
                                                           : "Not judged"},
                               {"p", g["coordinates"]}});
    }
  }
  if (m.blanks.is_object()) {
    for (const Json& b : m.blanks.value("blanks", Json::array())) {
      data["b"].push_back({b.value("id", ""), b["centre_mm"][0], b["centre_mm"][1], b.value("saw_outer_mm", 0.0),
                           b.value("kerf_mm", 0.0), b.value("inner_diameter_mm", 0.0),
                           b.value("outer_diameter_mm", 0.0)});
    }
  }
  if (front->contains("weave") && (*front)["weave"].contains("reading")) {
    const Json& r = (*front)["weave"]["reading"];
    data["grid"] = {{"x", r["origin_mm"][0]},     {"y", r["origin_mm"][1]},
                    {"step", r["step_mm"]},       {"columns", r["columns"]},
                    {"rows", r["rows"]},          {"warp", r["warp_turn_deg"]},
                    {"weft", r["weft_turn_deg"]}, {"u95", (*front)["weave"]["local_u95_deg"]}};
  }
  return data;
}

}  // namespace sheetloupe::page
