// What the photos could not show, how to shoot better, and the cautions.
#include <algorithm>

#include "io/page/facts.h"

namespace sheetloupe::page {
namespace {

constexpr const char* kLampFigure =
    R"(<svg viewBox="0 0 300 120" aria-hidden="true"><path class="soft" d="M10 104H290"/><path d="M92 104v-6h116v6z"/><path d="M122 14h56v8h-56z"/><circle class="fill" cx="150" cy="25" r="3"/><path class="soft" d="M150 30L96 96M150 30l54 66" stroke-dasharray="3 4"/><path d="M250 60l26-14 7 13-26 14z"/><path class="soft" d="M250 70L204 94M248 64l-58 30"/></svg>)";
constexpr const char* kFillFigure =
    R"(<svg viewBox="0 0 300 120" aria-hidden="true"><path d="M98 34h104v52H98z"/><path d="M96 12h108v13H96zM96 95h108v13H96zM76 14v92H63V14zM224 14v92h13V14z"/><path class="soft" d="M52 4h196v112H52z" stroke-dasharray="3 4"/><path class="fill" d="M102 15.5h6v6h-6zm24 0h6v6h-6zm24 0h6v6h-6zm24 0h6v6h-6zm18 0h6v6h-6z"/></svg>)";
constexpr const char* kEdgeFigure =
    R"(<svg viewBox="0 0 300 120" aria-hidden="true"><path class="soft" d="M70 8v8m160-8v8M70 12h52m56 0h52"/><text x="150" y="16" text-anchor="middle">40 mm</text><path d="M54 26h192v26H54z"/><path class="soft" d="M54 33h192M54 39h192M54 45h192"/><path class="soft" d="M150 96L72 56M150 96l78-40" stroke-dasharray="3 4"/><circle class="fill" cx="150" cy="99" r="3"/><path d="M122 102h56v8h-56z"/></svg>)";

std::string figure_item(const char* drawing, const std::string& name, const std::string& words) {
  return std::string("<li>") + drawing + "\n<h3>" + name + "</h3><p>" + words + "</p></li>\n";
}

std::string lamp_words(const Model& m) {
  double judged = 1;
  for (const Json& face : list_at(m.report, "faces"))
    judged = std::min(judged, number_of(at(face, {"defects", "judged_fraction"}), 1.0));
  if (judged >= 0.995) return "Hardly anything was hidden here. Keep the lamp low and to one side, where it was.";
  return number(100 * (1 - judged), 1) +
         " % of a face could not be judged, hatched in the picture. Move the lamp until the weave shows there too, or "
         "add "
         "a second photo as front-2.jpg with the lamp moved.";
}

std::string fill_words(const Model& m) {
  const Json* front = face_of(m.report, "front");
  if (!in_mm(front)) return "All four strips and all four corners must lie whole inside the picture.";
  const double px = number_of(at(*front, {"scale", "mm_per_px"}));
  const Json& smallest = at(*front, {"defects", "smallest_pinhole_mm"});
  std::string words = "One pixel covers " + number(px, 2) + " mm";
  if (smallest.is_number()) words += ", so pinholes show from " + number(smallest, 1) + " mm";
  return words + ". Closer, with all four strips still whole, finds smaller ones.";
}

std::string edge_words(const Model& m) {
  int given = 0, read = 0;
  for (const Json& edge : list_at(m.report, "edges")) {
    ++given;
    const std::string status = text_of(edge, "status");
    read += status == "sure" || status == "between" ? 1 : 0;
  }
  const std::string how = "400 grit, a wipe of water, the phone level with the edge. ";
  if (given == 0) return how + "Take all four; none was here.";
  return how + std::to_string(read) + " of " + std::to_string(given) + " photos gave a ply count.";
}

}  // namespace

std::string limits(const Model& m) {
  std::vector<std::string> lines;
  for (const Json& face : list_at(m.report, "faces")) {
    const std::string name = sentence(text_of(face, "role")) + ": ";
    for (const Json& line : list_at(face, "advice")) lines.push_back(name + escaped(line.get<std::string>()));
    const Json& judged = at(face, {"defects", "judged_fraction"});
    if (judged.is_number())
      lines.push_back(name + share_words(judged.get<double>()) + " of the cloth could be judged for defects" +
                      (at(face, {"defects", "smallest_pinhole_mm"}).is_number()
                           ? ", pinholes from " + number(face["defects"]["smallest_pinhole_mm"], 1) + "\u00a0mm up."
                           : "."));
  }
  lines.emplace_back(
      "Inside: voids and splits that reach neither a face nor an edge cannot be seen. Tap the sheet, weigh it, "
      "and test a spare ring before one is sold.");
  lines.emplace_back("Dry cloth as dark as the wetted sheet, and spots of a tow or two, escape the photo.");
  return section("limits", "What the photos could not show", "", list(lines));
}

std::string shooting(const Model& m) {
  return section("shoot", "For a better picture next time", "",
                 "<ol class=\"figs\">\n" + figure_item(kLampFigure, "Lamp low, to one side", lamp_words(m)) +
                     figure_item(kFillFigure, "Fill the picture", fill_words(m)) +
                     figure_item(kEdgeFigure, "Edges: sand, wet, square on", edge_words(m)) + "</ol>\n");
}

std::string cautions() {
  return section(
      "care", "Before you cut", "",
      "<div class=\"box c2\"><ul>\n"
      "<li>Carbon dust harms lungs and skin and conducts electricity. Cut wet, wear a fitted respirator and eye "
      "protection, and keep dust away from motors and phones.</li>\n"
      "<li>Clamp the sheet on a backing board; a hole saw that catches will spin it. Stop short of breaking "
      "through. Let plugs cool before you touch them.</li>\n"
      "<li>Never hold abrasive by hand on a turning part. Uncured epoxy sensitises skin: wear nitrile gloves.</li>\n"
      "<li>A photo shows the faces and the cut edge, not the inside. This page advises; it does not certify "
      "strength. Local rules and trained practice come first.</li>\n"
      "</ul></div>\n");
}

}  // namespace sheetloupe::page
