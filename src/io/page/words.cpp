// Head, verdict and the sections of words and tables.
#include <algorithm>
#include <map>
#include <vector>

#include "io/page/sections.h"

namespace sheetloupe::page {
namespace {

std::string cell(const std::string& name, const std::string& value) {
  return "<div><dt>" + name + "</dt><dd>" + value + "</dd></div>\n";
}

std::string plies_words(const Json& report) {
  for (const Json& edge : report.value("edges", Json::array())) {
    if (edge.value("status", "") == "sure") return std::to_string(edge["plies"].get<int>()) + ", sure";
    if (edge.value("status", "") == "between")
      return std::to_string(edge["plies_range"][0].get<int>()) + " or " +
             std::to_string(edge["plies_range"][1].get<int>());
  }
  return "cannot tell";
}

std::string text_of(const Json& json, const char* key, const std::string& otherwise) {
  const auto it = json.find(key);
  return it != json.end() && it->is_string() ? escaped(it->get<std::string>()) : otherwise;
}

const char* kind_words(const std::string& kind) {
  if (kind == "dry_spot") return "dry spot";
  return kind == "pinhole" ? "pinhole" : "resin-rich";
}

const char* sure_words(double confidence) {
  return confidence >= 0.9 ? "sure" : confidence >= 0.6 ? "likely" : "may be dust";
}

std::map<std::string, int> counts(const Json& face) {
  std::map<std::string, int> count;
  if (!face.contains("defects")) return count;
  for (const Json& item : face["defects"].value("items", Json::array())) ++count[item.value("kind", "")];
  return count;
}

std::string plural(int n, const std::string& one, const std::string& many) {
  return std::to_string(n) + " " + (n == 1 ? one : many);
}

std::string face_sentence(const Json& face) {
  const std::string name = face.value("role", "") == "back" ? "Back" : "Front";
  if (face.value("status", "") != "measured") return name + ": " + text_of(face, "reason", "not measured");
  const auto count = counts(face);
  const auto at = [&](const char* kind) { return count.contains(kind) ? count.at(kind) : 0; };
  if (at("dry_spot") + at("pinhole") + at("resin_rich") == 0) {
    return name + ": nothing found from " + number(face["defects"].value("smallest_pinhole_mm", 0.0), 1) +
           " mm up. Smaller pinholes cannot be seen in this photo.";
  }
  return name + ": " + plural(at("dry_spot"), "dry spot", "dry spots") + ", " +
         plural(at("pinhole"), "pinhole", "pinholes") + ", " +
         plural(at("resin_rich"), "resin-rich pool", "resin-rich pools") + ".";
}

int placed(const Json& blanks) {
  return blanks.is_object() ? static_cast<int>(blanks.value("blanks", Json::array()).size()) : 0;
}

int left_over(const Json& blanks) {
  int n = 0;
  if (blanks.is_object()) {
    for (const Json& u : blanks.value("unplaced", Json::array())) n += u.value("count", 0);
  }
  return n;
}

std::string headline(const Model& m) {
  const Json* front = face_of(m.report, "front");
  if (!front || front->value("status", "") == "not_measured") return "Cannot tell: the front was not measured.";
  if (front->value("status", "") == "measured_in_px") return "Measured in pixels only: there is no length standard.";
  std::string text =
      number(100 * m.report.value("usable", Json::object()).value("fraction", 0.0), 1) + " % of the sheet can be used";
  if (m.blanks.is_object())
    text += left_over(m.blanks) == 0 ? "; all " + std::to_string(placed(m.blanks)) + " rings fit"
                                     : "; " + std::to_string(placed(m.blanks)) + " rings fit, " +
                                           std::to_string(left_over(m.blanks)) + " do not";
  return text + ".";
}

std::string list(const std::vector<std::string>& lines) {
  std::string html = "<ul>";
  for (const std::string& line : lines) html += "<li>" + line + "</li>";
  return html + "</ul>";
}

std::vector<std::string> next_steps(const Model& m) {
  std::vector<std::string> steps;
  for (const Json& face : m.report.value("faces", Json::array())) {
    for (const Json& line : face.value("advice", Json::array())) steps.push_back(escaped(line.get<std::string>()));
  }
  if (!face_of(m.report, "back")) steps.emplace_back("Photograph the back. Every ring takes material from it too.");
  if (m.blanks.is_null())
    steps.emplace_back("Plan the rings: sheetloupe place FOLDER --orders orders.json");
  else
    steps.emplace_back("Print the template at 100 % and check both rules before you drill.");
  if (steps.size() > 3) steps.resize(3);
  return steps;
}

std::string row(const std::string& name, const std::string& value, const std::string& note) {
  return "<tr><th scope=\"row\">" + name + "</th><td class=\"v\">" + value + "</td><td>" + note + "</td></tr>\n";
}

void weave_rows(const Json& face, std::string& html) {
  const std::string name = face.value("role", "") == "back" ? "Back" : "Front";
  const Json& w = face["weave"];
  if (!w.contains("warp_pitch_mm")) {
    html += row(name, "cannot tell", text_of(w, "reason", ""));
    return;
  }
  html += row(name + ", pattern", text_of(w, "pattern", "unknown"),
              "tows every " + number(w["warp_pitch_mm"], 2) + " mm across the warp, " + number(w["weft_pitch_mm"], 2) +
                  " mm across the weft");
  html += row(name + ", warp", measured(w["warp_deg"], w["angle_u95_deg"], 1, "\u00b0"),
              "from the sheet's top side, counter-clockwise");
  html += row(name + ", weft", measured(w["weft_deg"], w["angle_u95_deg"], 1, "\u00b0"), "");
  html += row(name + ", shear", number(w["shear_deg"]["mean"], 1) + "\u00b0 on average",
              "95 % of the face within " + number(w["shear_deg"]["p95_abs"], 1) + "\u00b0, at most " +
                  number(w["shear_deg"]["max_abs"], 1) + "\u00b0");
  html += row(name + ", tows lean", number(w["deviation_deg"]["max"], 1) + "\u00b0 at most",
              "95 % within " + number(w["deviation_deg"]["warp_p95"], 1) + "\u00b0 (warp) and " +
                  number(w["deviation_deg"]["weft_p95"], 1) + "\u00b0 (weft)");
  html += row(name + ", measured", number(100 * w.value("coverage", 0.0), 1) + " %", "of the cloth");
}

void found_rows(const Json& face, std::string& html) {
  if (!face.contains("defects")) return;
  for (const Json& item : face["defects"].value("items", Json::array())) {
    const std::string id = item.value("id", ""), kind = item.value("kind", "");
    const bool pinhole = kind == "pinhole";
    const std::string size = pinhole ? "\u2300 " + number(item["max_diameter_mm"], 1) + " mm"
                                     : measured(item["area_mm2"], item["area_u95_mm2"], 0, "mm\u00b2");
    html += "<tr data-id=\"" + escaped(id) + "\" data-x=\"" + number(item["centre_mm"][0], 1) + "\" data-y=\"" +
            number(item["centre_mm"][1], 1) + "\"><th scope=\"row\">" +
            (face.value("role", "") == "front" ? "<button type=\"button\" class=\"link\" aria-label=\"" + escaped(id) +
                                                     ": show in the picture\">" + escaped(id) + "</button> "
                                               : escaped(id) + " ") +
            kind_words(kind) + "</th><td class=\"n fx\" data-k=\"x\">" + number(item["centre_mm"][0], 1) +
            "</td><td class=\"n fx y\" data-k=\"y\">" + number(item["centre_mm"][1], 1) + "</td><td class=\"n\">" +
            size + "</td><td>" + sure_words(item.value("confidence", 0.0)) + "</td></tr>\n";
  }
}

}  // namespace

std::string head(const Model& m) {
  const Json& sheet = m.report["sheet"];
  const Json* front = face_of(m.report, "front");
  const bool mm = front && front->value("status", "") == "measured";
  std::string html =
      "<header>\n<div class=\"rule\" aria-hidden=\"true\"></div>\n<dl class=\"cells\">\n<div "
      "class=\"id\"><dt>Sheet</dt><dd>" +
      text_of(sheet, "id", "") + "</dd></div>\n";
  html += cell("Made", text_of(sheet, "made", "not said"));
  html += cell("Cloth", text_of(sheet, "fabric", "not said"));
  html += cell("Pattern read",
               mm && front->contains("weave") ? text_of((*front)["weave"], "pattern", "unknown") : "cannot tell");
  html += cell("Plies on the edge", plies_words(m.report));
  html += cell("Size", mm ? number((*front)["outline"]["width_mm"], 1) + " \u00d7 " +
                                measured((*front)["outline"]["height_mm"], (*front)["outline"]["side_u95_mm"], 1, "mm")
                          : "cannot tell");
  html += cell("Thickness", sheet.contains("thickness_mm") ? number(sheet["thickness_mm"], 1) + " mm" : "not said");
  html += cell("Defects found", front ? std::to_string([&] {
                                          int n = 0;
                                          for (const auto& [k, v] : counts(*front)) n += v;
                                          return n;
                                        }()) +
                                            " on the front"
                                      : "cannot tell");
  html += cell("Positions true to", mm ? "\u00b1" + number((*front)["scale"]["position_u95_mm"], 2) +
                                             " mm <span class=\"u\">from " + text_of((*front)["scale"], "source", "") +
                                             "</span>"
                                       : "cannot tell");
  return html + "</dl>\n</header>\n";
}

std::string verdict(const Model& m) {
  std::vector<std::string> seen;
  for (const Json& face : m.report.value("faces", Json::array())) seen.push_back(face_sentence(face));
  for (const Json& remark : m.report.value("remarks", Json::array()))
    seen.push_back(escaped(remark.get<std::string>()));
  const bool back = face_of(m.report, "back") != nullptr;
  return "<div class=\"verdict\">" + grade_box(m.report) + "<div><h1>" + headline(m) + "</h1><p>" +
         (back ? "Both faces were photographed." : "The back was not photographed.") +
         "</p></div></div>\n<dl class=\"lab side2\"><div>" + grade_reasons(m.report) +
         "<dt>What was found</dt><dd>" + list(seen) + "</dd></div>\n<div><dt>Next</dt><dd>" + list(next_steps(m)) + "</dd></div></dl>\n";
}

std::string found(const Model& m) {
  std::string rows;
  for (const Json& face : m.report.value("faces", Json::array())) found_rows(face, rows);
  if (rows.empty()) return "";
  return "<section aria-labelledby=\"h-found\">\n<h2 id=\"h-found\">Found <span>places, sizes, how "
         "sure</span></h2>\n<div class=\"scroll\"><table class=\"find\">\n<thead><tr><th scope=\"col\">Mark</th><th "
         "scope=\"col\" class=\"n\">x, mm</th><th scope=\"col\" class=\"n\">y, mm</th><th scope=\"col\" "
         "class=\"n\">Size</th><th scope=\"col\">How sure</th></tr></thead>\n<tbody>\n" +
         rows +
         "</tbody></table></div>\n<p class=\"s\" style=\"margin-top:10px\">F lies on the front, B on the back and in "
         "the back's own frame. These finds were proven on drawn pictures only, never yet on a real sheet: look at "
         "each place before you rely on it.</p>\n</section>\n";
}

std::string weave(const Model& m) {
  std::string rows;
  for (const Json& face : m.report.value("faces", Json::array())) {
    if (face.contains("weave")) weave_rows(face, rows);
  }
  if (rows.empty()) return "";
  return "<section class=\"keep\" aria-labelledby=\"h-weave\">\n<h2 id=\"h-weave\">Weave <span>where the tows "
         "run</span></h2>\n<div class=\"scroll\"><table class=\"meas\"><thead><tr><th scope=\"col\">What</th><th "
         "scope=\"col\">Value</th><th scope=\"col\">Over the face</th></tr></thead><tbody>\n" +
         rows + "</tbody></table></div>\n</section>\n";
}

std::string rings(const Model& m) {
  if (!m.blanks.is_object()) return "";
  std::string rows;
  for (const Json& b : m.blanks.value("blanks", Json::array())) {
    std::string harmless;
    for (const Json& id : b.value("harmless_defects", Json::array()))
      harmless += (harmless.empty() ? "" : ", ") + escaped(id.get<std::string>());
    const std::string id = b.value("id", "");
    rows += "<tr data-id=\"" + escaped(id) + "\" data-x=\"" + number(b["centre_mm"][0], 1) + "\" data-y=\"" +
            number(b["centre_mm"][1], 1) +
            "\"><th scope=\"row\"><button type=\"button\" class=\"link\" aria-label=\"Ring " + escaped(id) +
            ": show in the picture\">" + escaped(id) + "</button> " + text_of(b, "ring", "") + "</th><td class=\"n\">" +
            number(b["centre_mm"][0], 1) + "</td><td class=\"n\">" + number(b["centre_mm"][1], 1) +
            "</td><td class=\"n\">" + text_of(b, "saw", "") + "</td><td class=\"n\">" + (b["clearance_mm"].is_number() ? number(b["clearance_mm"], 1) : "free") +
            "</td><td>" + harmless + "</td></tr>\n";
  }
  std::vector<std::string> missing;
  for (const Json& u : m.blanks.value("unplaced", Json::array()))
    missing.push_back(std::to_string(u.value("count", 0)) + " of " + text_of(u, "ring", "") + ": " +
                      text_of(u, "reason", ""));
  const Json bound = m.blanks.value("bound", Json::object());
  return "<section aria-labelledby=\"h-rings\">\n<h2 id=\"h-rings\">Rings <span>" + std::to_string(placed(m.blanks)) +
         " placed</span></h2>\n<p>A flawless sheet of this shape would hold " +
         std::to_string(bound.value("flawless_sheet", 0)) + "; no plan can hold more than " +
         std::to_string(bound.value("proven", 0)) + ".</p>\n" + (missing.empty() ? "" : list(missing)) +
         "<div class=\"scroll\"><table><thead><tr><th scope=\"col\">Ring</th><th scope=\"col\" class=\"n\">x, "
         "mm</th><th scope=\"col\" class=\"n\">y, mm</th><th scope=\"col\" class=\"n\">Saw</th><th scope=\"col\" "
         "class=\"n\">Clear by, mm</th><th scope=\"col\">Harmless in core or kerf</th></tr></thead><tbody>\n" +
         rows + "</tbody></table></div>\n</section>\n";
}

std::string edges(const Model& m) {
  std::string rows;
  for (const Json& edge : m.report.value("edges", Json::array())) {
    const std::string status = edge.value("status", "");
    const std::string plies = status == "sure"      ? std::to_string(edge["plies"].get<int>()) + ", sure"
                              : status == "between" ? std::to_string(edge["plies_range"][0].get<int>()) + " or " +
                                                          std::to_string(edge["plies_range"][1].get<int>())
                                                    : "cannot tell";
    rows += row("The " + text_of(edge, "side", "") + " edge", plies, text_of(edge, "reason", ""));
  }
  if (rows.empty()) return "";
  return "<section class=\"keep\" aria-labelledby=\"h-edge\">\n<h2 id=\"h-edge\">Cut edges <span>plies and "
         "thickness</span></h2>\n<table class=\"meas\"><thead><tr><th scope=\"col\">Edge</th><th "
         "scope=\"col\">Plies</th><th scope=\"col\">Why</th></tr></thead><tbody>" +
         rows + "</tbody></table>\n</section>\n";
}

std::string advice(const Model& m) {
  std::vector<std::string> lines;
  for (const Json& face : m.report.value("faces", Json::array())) {
    const std::string name = face.value("role", "") == "back" ? "Back: " : "Front: ";
    for (const Json& line : face.value("advice", Json::array()))
      lines.push_back(name + escaped(line.get<std::string>()));
    if (face.contains("defects") && face["defects"].contains("smallest_pinhole_mm"))
      lines.push_back(name + "pinholes under " + number(face["defects"]["smallest_pinhole_mm"], 1) +
                      " mm cannot be told from dust in this photo.");
  }
  if (lines.empty()) return "";
  return "<section class=\"keep\" aria-labelledby=\"h-shoot\">\n<h2 id=\"h-shoot\">What the photos could not "
         "show</h2>\n" +
         list(lines) + "\n</section>\n";
}

std::string cautions() {
  return "<section class=\"keep\" aria-labelledby=\"h-care\">\n<h2 id=\"h-care\">Before you cut</h2>\n<div class=\"box "
         "c2\"><ul>\n"
         "<li>Carbon dust harms lungs and skin and conducts electricity. Cut wet, wear a fitted respirator and eye "
         "protection, and keep dust away from motors and phones.</li>\n"
         "<li>Clamp the sheet on a backing board; a hole saw that catches will spin it. Stop short of breaking "
         "through. Let plugs cool before you touch them.</li>\n"
         "<li>Never hold abrasive by hand on a turning part. Uncured epoxy sensitises skin: wear nitrile gloves.</li>\n"
         "<li>A photo shows the faces and the cut edge, not the inside. This page advises; it does not certify "
         "strength. Local rules and trained practice come first.</li>\n"
         "</ul></div>\n</section>\n";
}

}  // namespace sheetloupe::page
