// The plate: the flat front picture with its layers, rulers and reading dial, and the key that switches them.
#include <cstdio>

#include "io/page/facts.h"
#include "io/page/layers.h"
#include "io/page/marks.h"
#include "io/page/turn_map.h"

namespace sheetloupe::page {
namespace {

struct Line {
  const char* key;
  const char* name;
  bool shown;
};

// The key, in this order; what is not shown at first would cover the rest.
constexpr Line kKey[] = {{"photo", "Photo", true},
                         {"blank", "Ring blank", true},
                         {"dry", "Dry spot", true},
                         {"pin", "Pinhole", true},
                         {"resin", "Resin-rich", true},
                         {"odd", "Suspect", true},
                         {"weave", "Weave zone", true},
                         {"thin", "Thin zone", true},
                         {"unj", "Not judged", true},
                         {"use", "Usable edge", false},
                         {"back", "Back photo", false},
                         {"map", "Weave turn", false},
                         {"tow", "Tow lines, turn \u00d74", false}};

// From the ground up: a later layer lies on the earlier ones.
constexpr const char* kStack[] = {"photo", "back",  "map", "weave", "thin",  "unj", "use",
                                  "tow",   "blank", "odd", "dry",   "resin", "pin"};

std::string key_list(const Model& m, const std::map<std::string, Layer>& layers) {
  std::string html = "<ul class=\"key\">\n";
  for (const Line& line : kKey) {
    const auto it = layers.find(line.key);
    if (it == layers.end() || it->second.things == 0) continue;
    std::string name = line.name;
    if (name == "Weave turn")
      name +=
          ", 0 to " + std::to_string(turn_scale_deg(at(*face_of(m.report, "front"), {"weave", "reading"}))) + "\u00b0";
    html += std::string("<li><label><input type=\"checkbox\" value=\"") + line.key + "\"" +
            (line.shown ? " checked" : "") + ">" + swatch(line.key) + "<span>" + name + "</span><span class=\"c\">" +
            it->second.count + "</span></label></li>\n";
  }
  html += "</ul>\n";
  if (layers.contains("blank"))
    html +=
        "<p class=\"s\" style=\"margin-top:12px\">A ring is cut from the pale band only. Its core is drilled away and "
        "the dark band goes to sawdust, so a defect there does no harm.</p>\n";
  return html;
}

std::string frame_words(const Model& m) {
  const bool tied = at(m.report, {"sheet", "top"}).is_string();
  return std::string("x and y run from the datum corner, top left. ") +
         (tied
              ? "The frame is tied to the strip that sheet.json names. "
              : "Nothing ties the frame to the sheet: it follows the way the phone was held. Mark the datum corner, or "
                "say <b>\"top\": \"strip-0\"</b> in sheet.json. ") +
         (face_of(m.report, "back") ? "Finds of the back are drawn as if seen through the sheet. " : "") +
         "The photo has been laid flat to scale.";
}

std::string tools() {
  return "<div class=\"tools noprint\" role=\"group\" aria-label=\"Picture\"><button type=\"button\" id=\"zin\" "
         "aria-label=\"Closer\">+</button><button type=\"button\" id=\"zout\" aria-label=\"Farther\">&minus;</button>"
         "<button type=\"button\" id=\"zfit\">Fit</button><span class=\"s\">Point or tap to read. Arrow keys step 1 "
         "mm, "
         "with Shift 10 mm.</span></div>\n";
}

std::string dial() {
  return "<div class=\"dial noprint\"><div><span>x</span><output id=\"d-x\">\u2013</output></div><div><span>y</span>"
         "<output id=\"d-y\">\u2013</output></div><div><span>Warp turns</span><output id=\"d-w\">\u2013</output></div>"
         "<div><span>Weft turns</span><output id=\"d-f\">\u2013</output></div><div class=\"wide\"><span>Here</span>"
         "<output id=\"d-here\" aria-live=\"polite\">Tap or point at the sheet to read it.</output></div></div>\n"
         "<noscript><p class=\"s\">Scripts are off: the picture cannot be read point by point. Every figure stands in "
         "the tables below.</p></noscript>\n";
}

std::string drawing(const Model& m, const std::map<std::string, Layer>& layers, double w, double h) {
  char box[160];
  std::snprintf(box, sizeof box, "-3 -3 %.3f %.3f", w + 6, h + 6);
  std::string html = std::string("<svg id=\"sv\" viewBox=\"") + box +
                     "\" preserveAspectRatio=\"xMidYMid meet\" aria-hidden=\"true\"><defs>" + pattern_definitions() +
                     "</defs>\n";
  for (const char* key : kStack) {
    const auto it = layers.find(key);
    if (it == layers.end()) continue;
    bool shown = true;
    for (const Line& line : kKey) shown = shown && (std::string(line.key) != key || line.shown);
    html += std::string("<g class=\"L\" data-l=\"") + key + "\"" + (shown ? "" : " style=\"display:none\"") + ">" +
            it->second.shapes + "</g>\n";
  }
  return html + "<g class=\"L\"><path d=\"" + outline_path(m) +
         "\" fill=\"none\" stroke=\"#fff\" stroke-opacity=\".5\" stroke-width=\"1\"/><path class=\"datum\" d=\"M-1.2 "
         "40V-1.2H40\"/>" +
         sized(0, 0, "<path d=\"M-3 -3H17L-3 17Z\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.5\"/>") +
         "</g>\n<g class=\"L noprint\" id=\"cross\" style=\"display:none\"><path class=\"hair0\" d=\"\"/><path "
         "class=\"hair1\" d=\"\"/></g>\n</svg>";
}

std::string no_picture(const Json* front) {
  const std::string reason = front ? text_of(*front, "reason") : "";
  return "<section class=\"keep\" id=\"face\" aria-labelledby=\"h-face\"><h2 id=\"h-face\">Front face <span>no picture "
         "in mm</span></h2><div class=\"none\"><h3>Cannot tell" +
         (reason.empty() ? "" : ": " + reason) +
         "</h3><p>Nothing is drawn in millimetres here. Print the strips (<code>sheetloupe strips -o "
         "strips.pdf</code>) "
         "and tape them around the sheet, or measure its four sides and a diagonal.</p></div></section>\n";
}

}  // namespace

std::string picture(const Model& m) {
  const Json* front = face_of(m.report, "front");
  if (!in_mm(front) || outline_path(m).empty()) return no_picture(front);
  const double w = number_of(at(*front, {"outline", "width_mm"})), h = number_of(at(*front, {"outline", "height_mm"}));
  const auto layers = layers_of(m);
  return "<section id=\"face\" aria-labelledby=\"h-face\">\n<h2 id=\"h-face\">Front face <span>what was found, and "
         "where</span></h2>\n<div class=\"plate\" style=\"--shape:" +
         number(w + 6, 1) + "/" + number(h + 6, 1) + "\">\n<figure class=\"bench\">\n" + tools() +
         "<div class=\"frame\"><svg id=\"rx\" class=\"ruler\" height=\"26\" aria-hidden=\"true\"></svg><svg id=\"ry\" "
         "class=\"ruler\" width=\"34\" aria-hidden=\"true\"></svg>\n<div id=\"view\" tabindex=\"0\" role=\"group\" "
         "aria-roledescription=\"picture to read\" aria-label=\"Front face, " +
         number(w, 0) + " by " + number(h, 0) +
         " millimetres. Arrow keys move the reading point. Plus and minus zoom, 0 fits.\" "
         "aria-describedby=\"d-here\">\n" +
         drawing(m, layers, w, h) + "</div></div>\n" + dial() + "<figcaption class=\"s\" style=\"margin-top:10px\">" +
         frame_words(m) +
         "</figcaption>\n</figure>\n<div class=\"side\" role=\"group\" aria-label=\"Key. Each line shows or hides one "
         "layer.\">" +
         key_list(m, layers) + "</div>\n</div>\n</section>\n";
}

}  // namespace sheetloupe::page
