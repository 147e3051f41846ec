// The tables of what was found, one for each face.
#include <cmath>

#include "io/page/facts.h"
#include "io/page/marks.h"

namespace sheetloupe::page {
namespace {

// From 0.9 on hardly any find of the drawn test sheets was false; below 0.6 about every other one.
const char* sure_words(double confidence) {
  return confidence >= 0.9 ? "sure" : confidence >= 0.6 ? "likely" : "may be dust";
}

// A pinhole's size is the diameter of the circle of its area: d = sqrt(4 A / pi), so u(d) = 2 u(A) / (pi d).
std::string size_words(const Json& item, bool pinhole) {
  const double a = number_of(at(item, {"area_mm2"})), u = number_of(at(item, {"area_u95_mm2"}));
  if (!pinhole) return area(a, u);
  constexpr double kPi = 3.14159265358979323846;
  const double d = std::sqrt(4 * a / kPi);
  if (!(d > 0)) return "\u2300 " + measured(at(item, {"max_diameter_mm"}), nullptr, 1, "mm");
  return "\u2300 " + measured(d, 2 * u / (kPi * d), 1, "mm");
}

// The button leads to the place in the picture, which shows the back's finds through the sheet.
std::string id_cell(const Model& m, const std::string& id, const std::string& kind) {
  if (!feature_of(m.usable, id)) return id;
  return "<button type=\"button\" class=\"link\" aria-label=\"" + id + ", " + kind_words(kind) +
         ": show in the picture\">" + id + "</button>";
}

// On a phone there is no column for how sure a find is: what is not sure says so beside the rings.
std::string doubt(double confidence) {
  const std::string words = sure_words(confidence);
  return words == "sure" ? "" : "<span class=\"k\">" + sentence(words) + ". </span>";
}

std::string row(const Model& m, const Json& item) {
  const std::string id = text_of(item, "id"), kind = text_of(item, "kind");
  const Json* feature = feature_of(m.usable, id);
  std::string place;
  if (feature) {
    const auto p = place_of(*feature);
    place = " data-x=\"" + number(p[0], 1) + "\" data-y=\"" + number(p[1], 1) + "\"";
  }
  return "<tr data-id=\"" + id + "\"" + place + "><th scope=\"row\">" + swatch(layer_of_defect(kind)) +
         id_cell(m, id, kind) + " " + kind_words(kind) + "</th><td class=\"n fx\" data-k=\"x\">" +
         number(item["centre_mm"][0], 1) + "</td><td class=\"n fx y\" data-k=\"y\">" + number(item["centre_mm"][1], 1) +
         "</td><td class=\"n nb sz\">" + size_words(item, kind == "pinhole") + "</td><td class=\"h\">" +
         sure_words(number_of(at(item, {"confidence"}))) + "</td><td class=\"w\">" +
         doubt(number_of(at(item, {"confidence"}))) + for_the_rings(m, id) + "</td></tr>\n";
}

std::string notes(const Json& face) {
  std::string words;
  const Json& smallest = at(face, {"defects", "smallest_pinhole_mm"});
  if (smallest.is_number())
    words += "Pinholes under " + number(smallest, 1) + " mm cannot be told from dust in this photo. ";
  words += "Positions are good to \u00b1" + number(at(face, {"scale", "position_u95_mm"}), 2) + " mm. ";
  if (at(face, {"role"}) == "back")
    words +=
        "x and y are the back's own: from its top left corner as photographed. The buttons lead to the place as seen "
        "from the front. ";
  const std::size_t suspects = list_at(at(face, {"defects"}), "suspects").size();
  if (suspects > 0)
    words +=
        plural(static_cast<int>(suspects), "more place looks", "more places look") +
        " odd without being a clear defect, drawn with white dashes: no table, no grade, but the rings keep clear. ";
  return words + "Proven on drawn pictures only, never yet on a real sheet: look at each place before you rely on it.";
}

std::string face_table(const Model& m, const Json& face) {
  const std::string role = text_of(face, "role");
  const Json& items = list_at(at(face, {"defects"}), "items");
  if (items.empty()) {
    const Json& smallest = at(face, {"defects", "smallest_pinhole_mm"});
    return section("found-" + role, "Found on the " + role, "nothing",
                   smallest.is_number()
                       ? "<p>Nothing from " + number(smallest, 1) +
                             "\u00a0mm up. Smaller pinholes cannot be seen in this photo.</p>\n"
                       : "<p>Cannot tell: " + text_of(at(face, {"defects"}), "reason", "not judged") + ".</p>\n");
  }
  std::string rows;
  for (const Json& item : items) rows += row(m, item);
  return section(
      "found-" + role, "Found on the " + role, plural(static_cast<int>(items.size()), "place", "places"),
      "<div class=\"scroll\"><table class=\"find\">\n<thead><tr><th scope=\"col\">Mark</th><th scope=\"col\" "
      "class=\"n\">x, mm</th><th scope=\"col\" class=\"n\">y, mm</th><th scope=\"col\" class=\"n\">Size</th>"
      "<th scope=\"col\" class=\"h\">How sure</th><th scope=\"col\">For the rings</th></tr></thead>\n"
      "<tbody>\n" +
          rows + "</tbody></table></div>\n<p class=\"s\" style=\"margin-top:10px\">" + notes(face) + "</p>\n",
      false);
}

std::string no_back() {
  return section(
      "back", "Back face", "not measured",
      "<div class=\"none\"><h3>Cannot tell: no photo of the back</h3>\n<p style=\"margin-top:4px\">Every ring "
      "takes material from the back as well. Turn the sheet over left to right, keep the strips where they "
      "are, and save the photo as <span class=\"nb\"><b>back.jpg</b></span> in the sheet's folder.</p></div>\n");
}

std::string not_measured(const Json& face) {
  const std::string role = text_of(face, "role");
  std::vector<std::string> advice;
  for (const Json& line : list_at(face, "advice")) advice.push_back(escaped(line.get<std::string>()));
  return section("found-" + role, sentence(role) + " face", "not measured in mm",
                 "<div class=\"none\"><h3>Cannot tell: " + text_of(face, "reason", "no reason given") + "</h3>" +
                     (advice.empty() ? "" : list(advice)) + "</div>\n");
}

}  // namespace

std::string found(const Model& m) {
  std::string html;
  for (const Json& face : list_at(m.report, "faces")) html += in_mm(&face) ? face_table(m, face) : not_measured(face);
  if (!face_of(m.report, "back")) html += no_back();
  return html;
}

}  // namespace sheetloupe::page
